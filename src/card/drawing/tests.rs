use super::*;
use crate::record::{Drive, Head, Landmark, Position};
use crate::thread::Designation;

fn joint(count: u32) -> Joint {
    let positions =
        (0..count).map(|i| Position { n: i + 1, x_mm: f64::from(i % 4) * 30.0, y_mm: f64::from(i / 4) * 20.0 });
    Joint {
        positions: positions.collect(),
        title: Some("Cover <left>".parse().unwrap()),
        view: Some("from the belt side".parse().unwrap()),
        landmark: Some(Landmark { text: "In & out".parse().unwrap(), x_mm: -20.0, y_mm: 40.0 }),
        ..Joint::bare("skua.test.cover".parse().unwrap())
    }
}

fn fastener(positions: &str, head: Head) -> Fastener {
    let joint: crate::record::Id = "skua.test.cover".parse().unwrap();
    let thread = "M8".parse().map(|designation: Designation| designation.thread).unwrap();
    let stages = vec!["20 N·m".parse().unwrap()];
    Fastener {
        positions: Some(positions.parse().unwrap()),
        head: Some(head),
        drive: Some(Drive { kind: crate::record::DriveType::Hexagon, size: Some("13 mm".parse().unwrap()) }),
        ..Fastener::bare(format!("{joint}.x").parse().unwrap(), joint, thread, stages)
    }
}

#[test]
fn says_in_words_what_it_shows() {
    let (hex, nut, late) =
        (fastener("1-4", Head::Hexagon), fastener("5", Head::HexagonNut), fastener("5", Head::Square));
    let look = Look {
        order: vec![1, 3, 2, 4, 5],
        order_words: "as listed".to_owned(),
        done: [1].into(),
        now: Some(3),
        is_live: false,
    };
    let svg = drawing(&joint(6), &[&hex, &nut, &late], &look).unwrap();
    let description = svg.split("-desc\">").nth(1).unwrap().split("</desc>").next().unwrap();
    assert_eq!(
        description,
        "6 positions. Seen from the belt side. In &amp; out is marked at the top left. Order: 1, 3, 2, 4, 5 (as listed). \
         Hexagon head, 13 mm at 1, 2, 3, 4. Hexagon nut, 13 mm or square head, hexagon 13 mm at 5. No record says what \
         sits at 6. Done: 1. Now: 3."
    );
    assert!(svg.contains("<title id=\"picture-skua-test-cover-title\">Positions of Cover &lt;left&gt;</title>"));
}

#[test]
fn every_number_is_text_and_nothing_comes_from_outside() {
    for count in [1, 2, 9, 60] {
        let look = Look { order: (1..=count).collect(), ..Look::default() };
        let svg = drawing(&joint(count), &[&fastener("1-60", Head::Hexagon)], &look).unwrap();
        for n in 1..=count {
            assert!(svg.contains(&format!(">{n}</text>")), "{n} of {count}");
        }
        let elsewhere = svg.replace("http://www.w3.org/2000/svg", "");
        for outside in ["http", "href", "url(", "<style", "style="] {
            assert!(!elsewhere.contains(outside), "{outside}");
        }
        assert_eq!(
            svg.matches("fill=\"currentColor\"/>").count(),
            count as usize,
            "an arrow for every step, and the mark"
        );
    }
}

#[test]
fn states_are_told_by_shape() {
    let plain = Look { order: vec![1, 2], ..Look::default() };
    let done = Look { done: [1].into(), ..plain.clone() };
    let now = Look { now: Some(1), ..plain.clone() };
    let draw = |look: &Look| drawing(&joint(2), &[&fastener("1-2", Head::Hexagon)], look).unwrap();
    let shapes = |svg: String| (svg.matches("<path").count(), svg.matches("<circle").count());
    let (plain, done, now) = (shapes(draw(&plain)), shapes(draw(&done)), shapes(draw(&now)));
    assert_eq!(done, (plain.0 + 2, plain.1));
    assert_eq!(now, (plain.0, plain.1 + 1));
    let live = draw(&Look { order: vec![1, 2], now: Some(2), is_live: true, ..Look::default() });
    assert_eq!((live.matches("class=\"now\"").count(), live.matches("display=\"none\"").count()), (2, 3));
}

#[test]
fn nothing_drawn_is_no_drawing() {
    assert_eq!(drawing(&joint(0), &[], &Look::default()), None);
}
