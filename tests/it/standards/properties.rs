//! What must hold for any text and any size: nothing panics, texts are stable, values are finite and in order.

use super::mm;
use clampbook::standards::{
    PropertyClass, breaking_torque, friction_for, heads, hexalobular_drive, holes, loads, material, nut_fit,
    nut_strength, strength_by_edition, washers,
};
use clampbook::thread::Thread;
use proptest::prelude::*;

/// Texts that come near to classes, and any other text.
fn class_text() -> impl Strategy<Value = String> {
    prop_oneof![
        "(class |grade |SAE |ASTM |gr\\. ?|)[0-9]{1,3}([.,][0-9])?",
        "(grade |)[aAcCdDfF][0-9]L?[ -/]?[0-9]{2,3}",
        "\\PC{1,40}",
    ]
}

proptest! {
    #[test]
    fn a_class_is_kept_and_stable(text in class_text()) {
        if let Ok(class) = text.parse::<PropertyClass>() {
            let again: PropertyClass = class.as_str().parse().expect("what was printed can be read");
            prop_assert_eq!(&again, &class);
            prop_assert!(class.as_str().chars().count() <= 40);
            prop_assert!(class.nearest().iter().all(PropertyClass::is_known));
            let json = serde_json::to_string(&class).expect("JSON");
            prop_assert_eq!(serde_json::from_str::<PropertyClass>(&json).expect("read back"), class);
        }
    }

    #[test]
    fn printable_text_is_never_refused(text in "[!-~µ–×][ -~µ–×]{0,38}") {
        prop_assert!(text.parse::<PropertyClass>().is_ok());
    }

    #[test]
    fn strengths_are_in_order(text in class_text(), d in 0.1..120.0_f64) {
        let Ok(class) = text.parse::<PropertyClass>() else { return Ok(()) };
        for found in strength_by_edition(&class, mm(d)) {
            prop_assert!(found.sizes.contains(mm(d)));
            prop_assert!(found.yield_ < found.tensile && found.yield_.megapascals() > 100.0);
            prop_assert!(found.proof.is_none_or(|proof| proof <= found.yield_));
        }
    }

    #[test]
    fn look_ups_answer_any_thread(text in class_text(), d in 1.0..70.0_f64, pitch in 0.2..6.0_f64) {
        let Ok(class) = text.parse::<PropertyClass>() else { return Ok(()) };
        let Ok(thread) = format!("M{d:.1}×{pitch:.2}").parse::<Thread>() else { return Ok(()) };
        let Some(geometry) = thread.geometry() else { return Ok(()) };
        if let Ok(found) = loads(&class, &geometry) {
            prop_assert!(found.ultimate.value().newtons() > 0.0);
            prop_assert!(found.proof.is_none_or(|proof| proof.computed < found.ultimate.computed));
        }
        if let Some(nut) = nut_strength(&class, None, &thread) {
            prop_assert!(nut.proof.value().newtons() > 0.0);
        }
        if let Some(found) = breaking_torque(&class, &geometry) {
            prop_assert!(found.computed.is_none_or(|torque| torque.newton_meters() > 0.0));
        }
        if let Some(fit) = nut_fit(&class, &class) {
            prop_assert!(fit.needed.is_known());
        }
    }

    #[test]
    fn parts_of_a_size_are_of_that_size(tenths in 10_u32..640) {
        let d = mm(f64::from(tenths) / 10.0);
        prop_assert!(heads(d).iter().all(|head| head.size.is(d)));
        prop_assert!(holes(d).is_none_or(|holes| holes.fine > d));
        prop_assert!(washers(d).iter().all(|washer| washer.hole > d));
    }

    #[test]
    fn words_are_never_too_strange(finish in "\\PC{0,40}", lubrication in "\\PC{0,40}") {
        let estimate = friction_for(Some(&finish), Some(&lubrication));
        prop_assert!(0.0 < estimate.low && estimate.low < estimate.usual && estimate.usual < estimate.high && estimate.high < 1.0);
        prop_assert!(material(&finish).is_none_or(|material| !material.pressures.is_empty()));
        prop_assert!(hexalobular_drive(&lubrication).is_none_or(|drive| drive.across_lobes > mm(0.0)));
    }
}
