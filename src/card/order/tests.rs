use super::*;
use crate::record::Order;
use proptest::prelude::*;
use std::f64::consts::TAU;

fn at(n: u32, x_mm: f64, y_mm: f64) -> Position {
    Position { n, x_mm, y_mm }
}

/// A bolt circle numbered clockwise from the top.
fn ring(count: u32, radius_mm: f64) -> Vec<Position> {
    (0..count)
        .map(|i| {
            let angle = f64::from(i) / f64::from(count) * TAU;
            at(i + 1, radius_mm * angle.sin(), radius_mm * angle.cos())
        })
        .collect()
}

/// Rows of positions numbered row by row from the top left.
fn rows(rows: u32, columns: u32, step_x_mm: f64, step_y_mm: f64) -> Vec<Position> {
    (0..rows * columns)
        .map(|i| at(i + 1, f64::from(i % columns) * step_x_mm, -f64::from(i / columns) * step_y_mm))
        .collect()
}

#[track_caller]
fn goes(pattern: Pattern, positions: &[Position], order: &[u32]) {
    assert_eq!(by_pattern(pattern, positions), order, "{pattern}");
}

/// Trade practice for 4 and 5 holes; the larger circles as flange bolting sequences go (common practice, no source).
#[test]
fn bolt_circles_as_the_trade_does_them() {
    for pattern in [Pattern::Star, Pattern::Diagonal] {
        goes(pattern, &ring(4, 50.0), &[1, 3, 2, 4]);
        goes(pattern, &ring(5, 50.0), &[1, 3, 5, 2, 4]);
        goes(pattern, &ring(6, 50.0), &[1, 4, 2, 5, 3, 6]);
        goes(pattern, &ring(8, 50.0), &[1, 5, 3, 7, 2, 6, 4, 8]);
        goes(pattern, &ring(12, 50.0), &[1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12]);
    }
}

#[test]
fn corners_come_before_what_lies_between() {
    let cover = [
        at(1, -30.0, 20.0),
        at(2, 30.0, 20.0),
        at(3, 30.0, -20.0),
        at(4, -30.0, -20.0),
        at(5, 0.0, 34.0),
        at(6, 0.0, -34.0),
    ];
    goes(Pattern::Diagonal, &cover, &[1, 3, 2, 4, 5, 6]);
    goes(Pattern::Diagonal, &rows(2, 2, 60.0, 40.0), &[1, 4, 2, 3]);
    goes(Pattern::Diagonal, &rows(2, 3, 60.0, 60.0), &[1, 6, 3, 4, 2, 5]);
}

#[test]
fn the_inner_bolt_circle_comes_first() {
    let mut positions = ring(4, 30.0);
    positions.extend(ring(4, 80.0).iter().map(|p| at(p.n + 4, p.x_mm, p.y_mm)));
    goes(Pattern::Star, &positions, &[1, 3, 2, 4, 5, 7, 6, 8]);
    positions.push(at(9, 0.0, 0.0));
    assert_eq!(by_pattern(Pattern::Star, &positions)[0], 9, "what lies in the middle comes first");
}

#[test]
fn a_head_is_tightened_from_the_middle_outwards() {
    goes(Pattern::SpiralOut, &rows(2, 5, 100.0, 80.0), &[3, 8, 7, 2, 4, 9, 6, 1, 5, 10]);
    goes(Pattern::SpiralOut, &rows(1, 5, 100.0, 0.0), &[3, 4, 2, 1, 5]);
}

#[test]
fn a_row_is_tightened_from_its_middle_by_turns() {
    goes(Pattern::LineOut, &rows(1, 5, 100.0, 0.0), &[3, 2, 4, 1, 5]);
    goes(Pattern::LineOut, &rows(1, 4, 100.0, 0.0), &[2, 3, 1, 4]);
    goes(Pattern::LineOut, &rows(5, 1, 0.0, 30.0), &[3, 2, 4, 1, 5]);
    goes(Pattern::LineOut, &rows(2, 3, 100.0, 40.0), &[2, 5, 1, 6, 4, 3]);
}

#[test]
fn once_round_follows_the_edge_of_an_odd_shape() {
    goes(Pattern::Round, &ring(7, 50.0), &[1, 2, 3, 4, 5, 6, 7]);
    goes(Pattern::Round, &rows(2, 4, 50.0, 50.0), &[1, 2, 3, 4, 8, 7, 6, 5]);
    // An L: position 7 lies in the middle, where a bearing says nothing.
    let corner: Vec<Position> = [
        (0.0, 0.0),
        (0.0, 40.0),
        (0.0, 80.0),
        (0.0, 120.0),
        (60.0, 120.0),
        (60.0, 90.0),
        (60.0, 60.0),
        (90.0, 60.0),
        (120.0, 60.0),
        (120.0, 0.0),
        (80.0, 0.0),
        (40.0, 0.0),
    ]
    .iter()
    .zip(1..)
    .map(|(&(x, y), n)| at(n, x, y))
    .collect();
    goes(Pattern::Round, &corner, &[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]);
}

#[test]
fn one_position_and_none_are_orders_too() {
    for &pattern in Pattern::ALL {
        goes(pattern, &[], &[]);
        goes(pattern, &[at(7, 3.0, 4.0)], &[7]);
        goes(pattern, &[at(2, 3.0, 4.0), at(1, 3.0, 4.0), at(3, 3.0, 4.0)], &[1, 2, 3]);
        goes(pattern, &[at(1, 0.0, 0.0), at(1, 9.0, 0.0)], &[1]);
    }
}

fn joint(order: Option<Order>) -> Joint {
    Joint { positions: ring(6, 40.0), order, ..Joint::bare("skua.test.flange".parse().unwrap()) }
}

#[test]
fn a_pass_takes_its_own_positions() {
    let all: BTreeSet<u32> = (1..=6).collect();
    let star = Order { pattern: Some(Pattern::Star), passes: [(2, vec![2, 5])].into(), ..Order::default() };
    let joint_ = joint(Some(star));
    assert_eq!(sequence(&joint_, 1, &all).positions, [1, 4, 2, 5, 3, 6]);
    let second = sequence(&joint_, 2, &all);
    assert_eq!((second.positions, second.left_out), (vec![2, 5], vec![1, 3, 4, 6]));
    // A pass of fewer positions is a star of its own.
    assert_eq!(sequence(&joint_, 3, &[1, 2, 4, 5].into()).positions, [1, 4, 2, 5]);
    assert_eq!(loosening(&joint_, &all), [6, 3, 5, 2, 4, 1]);
}

#[test]
fn a_list_that_forgets_a_position_does_not_lose_it() {
    let all: BTreeSet<u32> = (1..=6).collect();
    let list = Order { positions: vec![3, 1, 3, 9], ..Order::default() };
    assert_eq!(sequence(&joint(Some(list)), 1, &all).positions, [3, 1, 2, 4, 5, 6]);
    let none = sequence(&joint(None), 1, &all);
    assert_eq!((none.positions, none.from), (vec![1, 2, 3, 4, 5, 6], OrderFrom::Number));
    let undrawn = Order { pattern: Some(Pattern::Star), ..Order::default() };
    assert_eq!(sequence(&joint(Some(undrawn)), 1, &[8, 1, 4, 7].into()).positions, [1, 4, 7, 8]);
}

/// What joints look like and what they might: up to 60 positions, numbered in no order that helps.
fn layout() -> impl Strategy<Value = Vec<Position>> {
    let free = prop::collection::vec((-200_i32..200, -200_i32..200), 0..61);
    let crowded = prop::collection::vec((-2_i32..3, -2_i32..3), 0..61);
    let row = prop::collection::vec((-200_i32..200, Just(0)), 0..61);
    let grid = (1_i32..7, 1_i32..11)
        .prop_map(|(rows, columns)| (0..rows * columns).map(|i| (i % columns * 30, -(i / columns) * 25)).collect());
    let rectangle = (1_i32..16, 1_i32..16).prop_map(|(across, down)| {
        let sides = (0..across).flat_map(|i| [(i * 20, 0), (i * 20, -down * 20)]);
        sides.chain((1..down).flat_map(|i| [(0, -i * 20), (across * 20, -i * 20)])).collect()
    });
    let clusters =
        (prop::collection::vec((-150_i32..150, -150_i32..150), 1..6), 1_i32..11).prop_map(|(middles, each)| {
            let around =
                |&(x, y): &(i32, i32)| (0..each).map(move |i| (x + i % 3 * 8, y + i / 3 * 8)).collect::<Vec<_>>();
            middles.iter().flat_map(around).collect()
        });
    let corner = (1_i32..30).prop_map(|n| (0..n).flat_map(|i| [(0, i * 15), (i * 15 + 15, 0)]).collect());
    prop_oneof![free, crowded, row, grid, rectangle, clusters, corner]
        .prop_map(|places: Vec<(i32, i32)>| {
            places.into_iter().zip(1..).map(|((x, y), n)| at(n, f64::from(x), f64::from(y))).collect::<Vec<_>>()
        })
        .prop_shuffle()
}

proptest! {
    #[test]
    fn every_pattern_takes_every_position_once(mut positions in layout(), pattern in 0..Pattern::ALL.len()) {
        let pattern = Pattern::ALL[pattern];
        let order = by_pattern(pattern, &positions);
        let mut sorted = order.clone();
        sorted.sort_unstable();
        prop_assert_eq!(sorted, (1..).take(positions.len()).collect::<Vec<u32>>());
        positions.reverse();
        prop_assert_eq!(by_pattern(pattern, &positions), order, "the order of drawing does not count");
    }

    #[test]
    fn where_it_lies_and_how_large_it_is_does_not_count(
        positions in layout(), pattern in 0..Pattern::ALL.len(),
        x in -500_i32..500, y in -500_i32..500, size in 0.05_f64..20.0,
    ) {
        let pattern = Pattern::ALL[pattern];
        let moved: Vec<_> = positions
            .iter()
            .map(|p| at(p.n, (p.x_mm + f64::from(x)) * size, (p.y_mm + f64::from(y)) * size))
            .collect();
        prop_assert_eq!(by_pattern(pattern, &moved), by_pattern(pattern, &positions));
    }

    #[test]
    fn pairs_on_an_even_ring_lie_opposite(half in 2_u32..31, across in any::<bool>()) {
        let pattern = if across { Pattern::Star } else { Pattern::Diagonal };
        let order = by_pattern(pattern, &ring(2 * half, 60.0));
        for pair in order.chunks(2) {
            prop_assert_eq!(pair[0].abs_diff(pair[1]), half, "{:?}", order);
        }
    }

    #[test]
    fn neighbours_on_an_odd_ring_lie_as_far_across_as_can_be(half in 1_u32..30, across in any::<bool>()) {
        let pattern = if across { Pattern::Star } else { Pattern::Diagonal };
        let count = 2 * half + 1;
        for pair in by_pattern(pattern, &ring(count, 60.0)).windows(2) {
            let steps = pair[0].abs_diff(pair[1]);
            prop_assert_eq!(steps.min(count - steps), half);
        }
    }

    #[test]
    fn diagonal_pairs_mirror_each_other(half in prop::collection::vec((1_i32..200, 1_i32..200), 1..20)) {
        let mirrored: Vec<(i32, i32)> = half.iter().copied().chain(half.iter().map(|&(x, y)| (-x, -y))).collect();
        let positions: Vec<Position> =
            mirrored.iter().zip(1..).map(|(&(x, y), n)| at(n, f64::from(x), f64::from(y))).collect();
        let place = |n: u32| mirrored[n as usize - 1];
        for pair in by_pattern(Pattern::Diagonal, &positions).chunks(2) {
            let (a, b) = (place(pair[0]), place(pair[1]));
            prop_assert_eq!((a.0 + b.0, a.1 + b.1), (0, 0));
        }
    }

    #[test]
    fn a_spiral_starts_nearest_the_centre_and_works_outwards(positions in layout()) {
        let spots = layout::spots(&positions);
        let radius = |n: u32| spots.iter().find(|spot| spot.n == n).map_or(0.0, |spot| spot.radius());
        let order = by_pattern(Pattern::SpiralOut, &positions);
        if let Some(&first) = order.first() {
            let nearest = spots.iter().map(|spot| spot.radius()).fold(f64::INFINITY, f64::min);
            prop_assert!(radius(first) <= nearest + 1e-6);
        }
        for (i, &n) in order.iter().enumerate() {
            for &later in &order[i..] {
                prop_assert!(radius(later) >= radius(n) - 0.150_101, "{} before {}", n, later);
            }
        }
    }

    #[test]
    fn drawn_in_any_order_a_joint_has_one_order(
        (positions, shuffled) in layout().prop_flat_map(|all| (Just(all.clone()), Just(all).prop_shuffle())),
        pattern in 0..Pattern::ALL.len(),
    ) {
        let pattern = Pattern::ALL[pattern];
        prop_assert_eq!(by_pattern(pattern, &positions), by_pattern(pattern, &shuffled));
    }

    #[test]
    fn diagonally_means_to_the_other_side(positions in layout()) {
        let spots = layout::spots(&positions);
        let spot = |n: u32| *spots.iter().find(|spot| spot.n == n).unwrap();
        let order = by_pattern(Pattern::Diagonal, &positions);
        let off_centre: Vec<u32> = order.iter().copied().filter(|&n| spot(n).radius() >= 1e-3).collect();
        prop_assert!(order.ends_with(&off_centre), "the middle comes first");
        if let [first, second, rest @ ..] = off_centre.as_slice() {
            let from_mirror = |n: u32| spot(*first).opposite().distance(spot(n));
            let nearest = rest.iter().map(|&n| from_mirror(n)).fold(f64::INFINITY, f64::min);
            prop_assert!(from_mirror(*second) <= nearest + 1e-6, "{} after {}: {:?}", second, first, order);
        }
    }

    #[test]
    fn a_row_is_left_towards_its_ends_only(lines in 1_u32..4, columns in 4_u32..20) {
        let order = by_pattern(Pattern::LineOut, &rows(lines, columns, 60.0, 15.0));
        let off = |n: u32| (f64::from((n - 1) % columns) - f64::from(columns - 1) / 2.0).abs();
        for pair in order.windows(2) {
            prop_assert!(off(pair[1]) >= off(pair[0]) - 1e-9, "{} after {}: {:?}", pair[1], pair[0], order);
        }
    }

    #[test]
    fn once_round_goes_round_once(degrees in prop::collection::btree_set(0_u32..360, 3..61), flat in 0.5_f64..1.0) {
        let angles: Vec<f64> = degrees.iter().map(|&degree| f64::from(degree).to_radians()).collect();
        let all: Vec<_> = angles.iter().zip(1..).map(|(a, n)| at(n, 100.0 * a.sin(), 100.0 * flat * a.cos())).collect();
        let order = by_pattern(Pattern::Round, &all);
        let breaks = order.windows(2).filter(|pair| pair[1] != pair[0] + 1).count();
        prop_assert!(breaks <= 1, "{:?}", order);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    // Of one odd layout nothing can be said for sure; of many it can.
    #[test]
    fn diagonally_neighbours_lie_further_apart_than_by_chance(layouts in prop::collection::vec(layout(), 60)) {
        let gains: Vec<f64> = layouts.iter().filter_map(|positions| gain_of_diagonal(positions)).collect();
        prop_assert!(gains.is_empty() || gains.iter().sum::<f64>() / gains.len() as f64 > 1.1, "{gains:?}");
    }
}

/// How far apart neighbours of the diagonal order lie, over how far two positions do on average; nothing where there are few
/// positions, or one side has more of them than the other.
fn gain_of_diagonal(positions: &[Position]) -> Option<f64> {
    let spots = layout::spots(positions);
    let middle = |part: fn(&layout::Spot) -> f64| spots.iter().map(part).sum::<f64>() / spots.len() as f64;
    if spots.len() < 6 || middle(|spot| spot.x).hypot(middle(|spot| spot.y)) >= 0.1 {
        return None;
    }
    let spot = |n: u32| *spots.iter().find(|spot| spot.n == n).unwrap();
    let order = by_pattern(Pattern::Diagonal, positions);
    let steps = order.windows(2).map(|pair| spot(pair[0]).distance(spot(pair[1])));
    let pairs = spots.iter().flat_map(|a| spots.iter().map(move |b| a.distance(*b)));
    let count = spots.len() as f64;
    Some(steps.sum::<f64>() / (count - 1.0) / (pairs.sum::<f64>() / (count * (count - 1.0))))
}
