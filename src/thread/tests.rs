use super::*;
use proptest::prelude::*;

#[track_caller]
fn reads(text: &str, canonical: &str) -> Thread {
    let thread: Thread = text.parse().unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(thread.to_string(), canonical, "{text}");
    assert_eq!(canonical.parse::<Thread>().as_ref(), Ok(&thread), "{canonical}");
    thread
}

#[track_caller]
fn standard(text: &str, canonical: &str) {
    let thread = reads(text, canonical);
    assert!(thread.is_standard() && thread.geometry().is_some(), "{text}");
}

#[track_caller]
fn unlisted(text: &str, canonical: &str, nearest: &str) {
    let thread = reads(text, canonical);
    assert!(!thread.is_standard(), "{text}");
    assert_eq!(thread.nearest(1).first().map(ToString::to_string).as_deref(), Some(nearest), "{text}");
}

#[test]
fn metric_lenient_in_canonical_out() {
    for text in
        ["M8", "m8", "M8x1.25", "m8x1,25", "M 8 × 1.25", "M8*1.25", "M8-1.25", "M8 - 1.25 mm", " M8\u{a0}×1.25 "]
    {
        standard(text, "M8×1.25");
    }
    standard("M8*1", "M8×1");
    standard("M 10 - 1.5", "M10×1.5");
    standard("M2.5", "M2.5×0.45");
    standard("M5.5x0.5", "M5.5×0.5");
    standard("M64", "M64×6");
}

#[test]
fn unified_lenient_in_canonical_out() {
    for text in [
        "3/8-16 UNC",
        "3/8-16",
        "3/8 - 16unc",
        "3/8\"-16 UNC",
        ".375-16",
        "0.3750-16 UNC",
        "3/8 UNC",
        "3/8 16 UNC",
        "3/8-16 UNRC",
        "6/16-16",
    ] {
        standard(text, "3/8-16 UNC");
    }
    for text in ["#10-24 UNC", "No. 10-24", "no 10-24", "10-24", ".190-24", "#10 UNC"] {
        standard(text, "#10-24 UNC");
    }
    standard("1/4-28", "1/4-28 UNF");
    standard(".250-20", "1/4-20 UNC");
    standard(".312-18", "5/16-18 UNC");
    standard(".138-32", "#6-32 UNC");
    assert!(!reads(".406-20", "13/32-20").is_standard() && !reads(".4060-20", "0.4060-20").is_standard());
    for text in ["1 1/4-12 UNF", "1-1/4-12", "1 1/4-12", "1¼-12"] {
        standard(text, "1 1/4-12 UNF");
    }
    standard("1-8", "1-8 UNC");
    standard("1-14", "1-14 UNS");
    standard("1 1/8-8UN", "1 1/8-8 UN");
    standard("2-4.5 UNC", "2-4.5 UNC");
    standard("2-4 1/2 UNC", "2-4.5 UNC");
    standard("3-12 UN", "3-12 UN");
    standard("1-1/8-18 UNEF", "1 1/8-18 UNEF");
}

/// As a numbered size `#1-8` would be deeper than the bolt; some tables put the sign before every whole size.
#[test]
fn number_sign_before_whole_inches() {
    standard("#1-8 UNC", "1-8 UNC");
    standard("#1-12 UNF", "1-12 UNF");
    unlisted("#10-16", "#10-16", "#10-24 UNC");
}

#[test]
fn sizes_that_no_standard_has() {
    unlisted("M9.5", "M9.5", "M9×1.25");
    unlisted("M8×1.3", "M8×1.3", "M8×1.25");
    unlisted("7/17-14", "7/17-14", "7/16-14 UNC");
    unlisted("7/17-20", "7/17-20", "7/16-20 UNF");
    unlisted("5/6-18", "5/6-18", "5/8-18 UNF");
    unlisted("3/8-16 UNF", "3/8-16 UNF", "3/8-16 UNC");
    unlisted("3/8-61 UNC", "3/8-61 UNC", "3/8-16 UNC");
    unlisted("5/16", "5/16", "5/16-18 UNC");
    unlisted("M13", "M13", "M14×2");
    unlisted("M8x125", "M8x125", "M8×1.25");
    unlisted("M8x1,25x30", "M8x1,25x30", "M8×1.25");
    unlisted("1/4-20 x 1", "1/4-20 x 1", "1/4-20 UNC");
    unlisted("9/1.6-18", "9/1.6-18", "9/16-18 UNF");
    unlisted("2.56", "2.56", "#2-56 UNC");
    assert!(reads("M9.5", "M9.5").geometry().is_none());
    assert!(reads("M8×1.3", "M8×1.3").geometry().is_some());
}

#[test]
fn other_threads_are_kept_as_entered() {
    for text in ["G 1/2", "R 1/4", "Tr 40×7", "1/4-18 NPT", "M8x1.25x30", "M8×35", "20 N·m", "W21.8"] {
        let thread = reads(text, text);
        assert_eq!((thread.system(), thread.is_standard()), (None, false), "{text}");
    }
    assert_eq!(reads("  G   1/2 ", "G 1/2").nearest(3), []);
    assert_eq!(reads("G½", "G 1/2").slug(), "g-1-2");
    // A pipe thread is not a unified thread with the same count.
    assert_eq!(reads("1/2-14 NPT", "1/2-14 NPT").nearest(3), []);
    for text in ["", "  ", "-", "M8\u{7}", &"x".repeat(61)] {
        assert!(text.parse::<Thread>().is_err(), "{text:?}");
    }
}

#[test]
fn designations() {
    #[track_caller]
    fn reads(text: &str, canonical: &str) {
        let designation: Designation = text.parse().unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(designation.to_string(), canonical, "{text}");
        assert_eq!(canonical.parse::<Designation>().as_ref(), Ok(&designation));
    }
    reads("M10x1.5-6g LH", "M10×1.5-6g-LH");
    reads("M10-6g", "M10×1.5-6g");
    reads("M10 left", "M10×1.5-LH");
    reads("M6x0.75-5g6g", "M6×0.75-5g6g");
    reads("M6-6g6g", "M6×1-6g");
    reads("3/8-16 UNC-2A LH", "3/8-16 UNC-2A-LH");
    reads("3/8-16UNC 2a", "3/8-16 UNC-2A");
    reads("1/4-28-3B", "1/4-28 UNF-3B");
    reads("#10-24 UNC-2A-RH", "#10-24 UNC-2A-RH");
    reads("M10-6q", "M10×1.5-6q");
    reads("G 1/2", "G 1/2");
    let error = "3/8-16 UNC-2A".parse::<Thread>().unwrap_err();
    assert!(error.to_string().starts_with("expected the thread alone (3/8-16 UNC)"), "{error}");
}

#[test]
fn classes() {
    let class = |text: &str| text.parse::<ThreadClass>().unwrap();
    for (text, known, external) in [
        ("6g", true, Some(true)),
        ("6H", true, Some(false)),
        ("4g6g", true, Some(true)),
        ("4H5H", true, Some(false)),
        ("2A", true, Some(true)),
        ("3b", true, Some(false)),
        ("6q", false, None),
        ("4A", false, None),
    ] {
        assert_eq!((class(text).is_known(), class(text).is_external()), (known, external), "{text}");
    }
    assert!(class("6g").belongs_to(System::Metric) && !class("6g").belongs_to(System::Unified));
    assert!("".parse::<ThreadClass>().is_err() && "six g".parse::<ThreadClass>().is_err());
}

#[test]
fn slugs_tell_standard_threads_apart() {
    assert_eq!(reads("M8", "M8×1.25").slug(), "m8x1.25");
    assert_eq!(reads("3/8-16", "3/8-16 UNC").slug(), "3-8-16-unc");
    assert_eq!(reads("#10-24", "#10-24 UNC").slug(), "no10-24-unc");
    let slugs: std::collections::BTreeSet<String> = Thread::standards().map(Thread::slug).collect();
    assert_eq!(slugs.len(), Thread::standards().count());
}

#[test]
fn sorted_by_physical_size() {
    let mut threads = ["M10", "3/8-16", "G 1/2", "M9.5", "#10-24", "M10x1"].map(|text| text.parse::<Thread>().unwrap());
    threads.sort();
    assert_eq!(
        threads.map(|thread| thread.to_string()),
        ["#10-24 UNC", "M9.5", "3/8-16 UNC", "M10×1", "M10×1.5", "G 1/2"]
    );
}

#[test]
fn every_standard_thread_is_read_back_and_has_geometry() {
    for thread in Thread::standards() {
        assert_eq!(thread.to_string().parse::<Thread>().as_ref(), Ok(thread));
        assert!(thread.is_standard() && thread.geometry().is_some(), "{thread}");
        assert_eq!(thread.nearest(1).first(), Some(thread));
    }
}

#[test]
fn tables_rise_and_stand_once() {
    for system in [System::Metric, System::Unified] {
        let threads: Vec<_> = Thread::standard(system).collect();
        assert!(threads.is_sorted_by_key(|thread| thread.sizes().0), "{system:?}");
        let pairs: std::collections::BTreeSet<_> = threads.iter().map(|thread| thread.size_key()).collect();
        assert_eq!(pairs.len(), threads.len(), "{system:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn arbitrary_text_never_panics(text in any::<String>()) {
        if let Ok(thread) = text.parse::<Thread>() {
            prop_assert_eq!(thread.to_string().parse::<Thread>(), Ok(thread.clone()));
            let _ = (thread.geometry(), thread.slug(), thread.size_key());
        }
        let _ = text.parse::<ThreadClass>();
    }

    #[test]
    fn print_then_parse_is_the_identity(text in "(M ?[0-9]{1,3}([.,][0-9]{1,3})?|#?[0-9]{1,2}|[0-9]{1,2}/[0-9]{1,2}|1[- ][0-9]/[0-9]{1,2}|[0-9]?[.][0-9]{2,4})( ?[-x×*] ?[0-9]{1,2}([.,][0-9])?)?( ?-?UN(C|F|S|EF)?)?([- ][1-6][AgHB])?( LH|-RH)?") {
        if let Ok(designation) = text.parse::<Designation>() {
            prop_assert_eq!(designation.to_string().parse::<Designation>(), Ok(designation.clone()));
            let thread = designation.thread;
            prop_assert_eq!(thread.to_string().parse::<Thread>(), Ok(thread));
        }
    }

    #[test]
    fn finer_pitch_makes_a_larger_stress_area(d in 1_u32..300, coarse in 0.1_f64..6.0, share in 0.1_f64..0.99) {
        let area = |pitch: f64| Geometry::metric(f64::from(d), pitch).map(|g| g.stress_area().square_millimeters());
        if let (Some(coarse), Some(fine)) = (area(coarse), area(coarse * share)) {
            prop_assert!(fine > coarse);
        }
    }
}
