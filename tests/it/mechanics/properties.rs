//! What must hold for any bolt that is accepted.

use super::{bolt, form, mm, mpa, newton_meters, newtons};
use clampbook::mechanics::resilience::Resilience;
use clampbook::mechanics::{
    AngleModel, BearingFace, BoltShape, ClampedParts, Counterpart, EngagedThread, Friction, FrictionRange, HeadShape,
    JointKind, LEAST_SHARE, Layer, Strength, Stripping, ThreadForm, TorquedBolt, preload_over, preload_scatter,
    tightening_range,
};
use clampbook::thread::{System, Thread};
use clampbook::units::{Angle, Area};
use proptest::prelude::*;
use std::f64::consts::PI;

/// Any thread with the 60° profile from M1 to M100, from very fine to very coarse.
fn any_form() -> impl Strategy<Value = ThreadForm> {
    (1.0..100.0_f64, 0.02..0.3_f64).prop_map(|(d, pitch_over_d)| {
        let p = d * pitch_over_d;
        let (d2, d3) = (d - 0.649_519 * p, d - 1.226_869 * p);
        let area = mm((d2 + d3) / 2.0) * mm((d2 + d3) / 2.0) * (PI / 4.0);
        ThreadForm::new(mm(d), mm(p), mm(d2), mm(d3), area).expect("a metric thread")
    })
}

fn any_bolt() -> impl Strategy<Value = TorquedBolt> {
    (any_form(), 1.1..2.0_f64, 0.03..0.5_f64)
        .prop_map(|(form, dkm_over_d, friction)| bolt(form, form.major().millimeters() * dkm_over_d, friction))
}

fn any_strength() -> impl Strategy<Value = Strength> {
    (150.0..1300.0_f64, 1.01..2.5_f64, 0.02..0.5_f64)
        .prop_map(|(low, ratio, elongation)| Strength::new(mpa(low), mpa(low * ratio), elongation).unwrap())
}

/// A bolt in its joint: grip 0.2 to 15 d, shank from none to all of the grip and from waisted to full.
fn any_model() -> impl Strategy<Value = AngleModel> {
    let joint = (0.2..15.0_f64, 0.0..1.0_f64, 0.6..1.0_f64, prop::bool::ANY, 1.6..6.0_f64);
    (any_bolt(), any_strength(), joint).prop_map(|(bolt, strength, (grip, shank, waist, is_tapped, part))| {
        let form = *bolt.form();
        let d = form.major();
        let (kind, counterpart) = if is_tapped {
            (JointKind::Tapped, Counterpart::Tapped(mpa(70_000.0)))
        } else {
            (JointKind::ThroughBolted, Counterpart::Nut(mpa(205_000.0)))
        };
        let shape = BoltShape::threaded(form, HeadShape::Hexagon, d * grip, counterpart)
            .and_then(|shape| shape.with_shank(d * grip * shank, d * waist))
            .unwrap();
        let layers = [Layer::new(d * grip, mpa(120_000.0)).unwrap()];
        let parts = ClampedParts::new(kind, d * 1.5, d * 1.1, d * part).unwrap().resilience(&layers);
        AngleModel::new(bolt, shape, parts, strength).unwrap()
    })
}

/// The torque at a utilisation.
fn snug(model: &AngleModel, utilisation: f64) -> clampbook::units::Torque {
    model.bolt().torque_at(utilisation, model.strength().yield_strength()).unwrap()
}

fn degrees(value: f64) -> Angle {
    Angle::from_degrees(value)
}

proptest! {
    #[test]
    fn torque_to_preload_and_back_is_the_identity(bolt in any_bolt(), share in 0.0..1.0_f64, prevailing in 0.0..10.0_f64) {
        let bolt = bolt.with_prevailing_torque(newton_meters(prevailing)).unwrap();
        // Up to 0.1 N·m for M1 and 100 kN·m for M100, which no bolt bears. Preloads end at a giganewton.
        let torque = share * bolt.form().major().millimeters().powi(3) / 10.0 + prevailing;
        let back = bolt.torque_for(bolt.preload_for(newton_meters(torque)).unwrap()).unwrap();
        prop_assert!((back.newton_meters() - torque).abs() <= 1e-9 * torque);
    }

    #[test]
    fn utilisation_to_preload_and_back_is_the_identity(bolt in any_bolt(), utilisation in 0.0..3.0_f64, strength in 100.0..1500.0_f64) {
        let preload = bolt.preload_at(utilisation, mpa(strength)).unwrap();
        prop_assert!((bolt.utilisation(preload, mpa(strength)).unwrap() - utilisation).abs() < 1e-9);
    }

    #[test]
    fn more_torque_gives_more_preload(bolt in any_bolt(), torque in 0.0..1e5_f64, more in 0.01..1e3_f64) {
        let low = bolt.preload_for(newton_meters(torque)).unwrap();
        prop_assert!(bolt.preload_for(newton_meters(torque + more)).unwrap() > low);
    }

    #[test]
    fn more_friction_gives_less_preload_at_a_torque_and_at_a_utilisation(bolt in any_bolt(), more in 0.001..0.3_f64) {
        let friction = bolt.friction();
        let rough = bolt.with_friction(Friction::same(friction.thread() + more).unwrap());
        let torque = newton_meters(40.0);
        prop_assert!(rough.preload_for(torque).unwrap() < bolt.preload_for(torque).unwrap());
        prop_assert!(rough.preload_at(0.9, mpa(640.0)).unwrap() < bolt.preload_at(0.9, mpa(640.0)).unwrap());
    }

    #[test]
    fn the_tension_never_exceeds_yield_at_utilisation_1(bolt in any_bolt(), strength in 100.0..1500.0_f64) {
        let preload = bolt.preload_at(1.0, mpa(strength)).unwrap();
        prop_assert!(preload < mpa(strength) * bolt.form().stress_area());
    }

    #[test]
    fn a_wider_range_of_friction_narrows_the_range_of_torque(bolt in any_bolt(), low in 0.04..0.2_f64, more in 0.001..0.2_f64) {
        let range = |low, high| {
            let friction = FrictionRange::new(Friction::same(low).unwrap(), Friction::same(high).unwrap()).unwrap();
            tightening_range(&bolt, friction, mpa(640.0), LEAST_SHARE).unwrap()
        };
        let middle = low + more / 2.0;
        let (one, wide) = (range(middle, middle), range(low, low + more));
        prop_assert!(wide.clamps_from > one.clamps_from && wide.yields_from < one.yields_from);
        prop_assert!(!one.is_empty());
    }

    #[test]
    fn the_wrench_widens_what_friction_scatters(bolt in any_bolt(), torque in 1.0..1e4_f64, accuracy in 0.0..0.1_f64) {
        let friction = FrictionRange::new(Friction::same(0.1).unwrap(), Friction::same(0.16).unwrap()).unwrap();
        let alone = preload_over(&bolt, friction, newton_meters(torque)).unwrap();
        let both = preload_scatter(&bolt, friction, newton_meters(torque), accuracy).unwrap();
        prop_assert!(both.preload.min <= alone.min && both.preload.max >= alone.max);
        prop_assert!(both.factor.unwrap().value() >= alone.max / alone.min - 1e-12);
    }

    #[test]
    fn preload_in_yield_never_exceeds_the_tensile_load(model in any_model(), utilisation in 0.0..1.5_f64, turn in 0.0..1440.0_f64) {
        let turned = model.after(snug(&model, utilisation), degrees(turn)).unwrap();
        prop_assert!(turned.preload <= model.strength().tensile_strength() * model.bolt().governing_area());
        let hardening = model.strength().tensile_strength() / model.strength().yield_strength();
        prop_assert!(turned.utilisation <= hardening * (1.0 + 1e-12));
        prop_assert_eq!(turned.yields, turned.plastic_strain > 0.0);
        prop_assert_eq!(turned.breaks, turned.strain_share >= 1.0 - 1e-12);
        prop_assert!(turned.breaks || turned.preload >= turned.snug_preload);
    }

    #[test]
    fn the_turn_goes_into_stretch_squeeze_and_what_stays(model in any_model(), utilisation in 0.0..0.95_f64, turn in 0.0..720.0_f64) {
        let turned = model.after(snug(&model, utilisation), degrees(turn)).unwrap();
        let elastic = (turned.preload - turned.snug_preload) * model.resilience();
        let advance = model.bolt().form().pitch().millimeters() * turn / 360.0;
        let accounted = (elastic + turned.permanent_stretch).millimeters();
        prop_assert!((accounted - advance).abs() <= 1e-9 * advance.max(1e-3), "{accounted} {advance}");
    }

    #[test]
    fn an_angle_in_steps_is_the_angle(model in any_model(), utilisation in 0.0..0.95_f64, steps in prop::collection::vec(1.0..120.0_f64, 1..6)) {
        // Through the preloads that the steps reach: each step begins as a snug torque that the last one ended with.
        let whole = model.after(snug(&model, utilisation), degrees(steps.iter().sum())).unwrap();
        let mut torque = snug(&model, utilisation);
        let mut stretch = 0.0;
        let mut at = model.after(torque, degrees(0.0)).unwrap();
        for step in steps {
            // What the bolt kept from the steps before is in the torque that they ended with.
            stretch -= model.after(torque, degrees(0.0)).unwrap().permanent_stretch.millimeters();
            at = model.after(torque, degrees(step)).unwrap();
            stretch += at.permanent_stretch.millimeters();
            torque = at.final_torque;
            prop_assume!(!at.breaks && at.strain_share < 0.9);
        }
        prop_assert!((at.preload / whole.preload - 1.0).abs() < 1e-6);
        prop_assert!((stretch - whole.permanent_stretch.millimeters()).abs() < 1e-4 * (1.0 + stretch));
    }

    #[test]
    fn more_turn_gives_more_preload_and_more_stretch(model in any_model(), turn in 0.0..360.0_f64, more in 1.0..90.0_f64) {
        let torque = snug(&model, 0.3);
        let (less, further) = (model.after(torque, degrees(turn)).unwrap(), model.after(torque, degrees(turn + more)).unwrap());
        // Flow stress nears the tensile strength until the last digit no longer tells them apart.
        prop_assert!(further.preload >= less.preload && further.permanent_stretch >= less.permanent_stretch);
        prop_assert!(further.preload > less.preload || less.yields);
    }

    #[test]
    fn yields_exactly_from_its_yield_angle_on(model in any_model(), utilisation in 0.01..0.9_f64) {
        let torque = snug(&model, utilisation);
        let at = model.after(torque, degrees(0.0)).unwrap().yield_angle;
        prop_assume!(at.degrees() < 3000.0);
        prop_assert!(!model.after(torque, at * 0.999_999).unwrap().yields);
        prop_assert!(model.after(torque, at * 1.000_001).unwrap().yields);
    }

    #[test]
    fn a_softer_joint_yields_later(model in any_model(), grip_more in 1.1..3.0_f64) {
        let shape = *model.shape();
        let longer = BoltShape::threaded(*shape.form(), HeadShape::Hexagon, shape.grip() * grip_more, shape.counterpart())
            .and_then(|longer| longer.with_shank(shape.shank_length(), shape.shank_diameter()))
            .unwrap();
        let parts = Resilience::from_millimeters_per_newton(1e-7).unwrap();
        let of = |shape| AngleModel::new(*model.bolt(), shape, parts, model.strength()).unwrap();
        let torque = snug(&model, 0.2);
        let (short, long) = (of(shape).after(torque, degrees(0.0)).unwrap(), of(longer).after(torque, degrees(0.0)).unwrap());
        prop_assert!(long.yield_angle > short.yield_angle);
    }

    #[test]
    fn stiffer_parts_give_less(grip in 1.0..200.0_f64, part in 16.7..200.0_f64, modulus in 2_000.0..400_000.0_f64) {
        for kind in [JointKind::ThroughBolted, JointKind::Tapped] {
            let parts = ClampedParts::new(kind, mm(16.6), mm(13.5), mm(part)).unwrap();
            let of = |modulus| parts.resilience(&[Layer::new(mm(grip), mpa(modulus)).unwrap()]).millimeters_per_newton();
            prop_assert!(of(modulus) > 0.0 && of(modulus) > of(modulus * 1.1));
        }
    }

    #[test]
    fn needed_engagement_just_holds(bolt in 100.0..900.0_f64, tapped in 20.0..900.0_f64, load in 1.0..1e6_f64) {
        let thread = EngagedThread::new(mm(1.5), mm(9.74), mm(8.86), mm(9.206), mm(8.676)).unwrap();
        let stripping = Stripping::new(thread, mpa(bolt), mpa(tapped)).unwrap();
        let needed = stripping.engagement_for(newtons(load)).unwrap();
        prop_assume!(needed < mm(10_000.0));
        let holds = stripping.forces(stripping.effective(needed).unwrap()).unwrap().weaker().newtons();
        prop_assert!((holds / load - 1.0).abs() < 1e-9);
    }

    /// Whatever numbers come in, they are refused or everything that comes out is finite.
    #[test]
    fn no_number_breaks_anything(a in wild(), b in wild(), c in wild(), d in wild(), e in wild()) {
        wild_case(a, b, c, d, e);
    }
}

/// Numbers of any size, also negative and zero.
fn wild() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 0.001..100.0_f64,
        2 => -1.0..2000.0_f64,
        1 => Just(0.0),
        1 => (-300..300_i32).prop_map(|power| 10_f64.powi(power)),
        1 => Just(f64::MAX),
        1 => Just(f64::MIN_POSITIVE),
    ]
}

/// The quantities panic on anything that is not finite, so reaching the end is the test.
fn wild_case(a: f64, b: f64, c: f64, d: f64, e: f64) {
    let face = BearingFace::new(mm(a), mm(b)).and_then(|face| face.pressure(newtons(c), mpa(d)));
    assert!(face.is_ok_and(|face| face.utilisation.is_finite()) || face.is_err());
    let thread = EngagedThread::new(mm(c), mm(a), mm(b), mm(b), mm(d));
    if let Ok(stripping) = thread.and_then(|thread| Stripping::new(thread, mpa(d), mpa(e))) {
        let forces = stripping.forces(mm(c)).expect("an engagement as long as a pitch");
        assert!(forces.strength_ratio.is_finite());
        let _ = stripping.engagement_for(newtons(a));
    }
    // Numbers far beyond any length can't even be squared: the quantity itself refuses those.
    let area = Area::from_square_millimeters((b * b * PI / 4.0).min(f64::MAX));
    if let Ok(form) = ThreadForm::new(mm(a), mm(c), mm(b), mm(b * 0.95), area) {
        wild_bolt(form, a, d, e);
    }
}

fn wild_bolt(form: ThreadForm, a: f64, d: f64, e: f64) {
    let Ok(friction) = Friction::new(d, e) else { return };
    let bearing = clampbook::mechanics::HeadBearing::of_mean_diameter(form.major() * 1.3).expect("a head");
    let bolt = TorquedBolt::new(form, bearing, friction);
    let _ = bolt.preload_for(newton_meters(e));
    let _ = bolt.torque_for(newtons(d)).and_then(|_| bolt.loosening_torque(newtons(d)));
    let steel = Counterpart::Nut(mpa(205_000.0));
    let shape = BoltShape::threaded(form, HeadShape::Cylindrical, mm(d), steel);
    let strength = Strength::new(mpa(a), mpa(a * 1.2), 0.1);
    let parts = Resilience::from_millimeters_per_newton(e * 1e-7);
    if let (Ok(shape), Ok(strength), Ok(parts)) = (shape, strength, parts) {
        let model = AngleModel::new(bolt, shape, parts, strength).expect("one thread");
        for angle in [0.0, 90.0, 3600.0] {
            if let Ok(turned) = model.after(newton_meters(e), degrees(angle)) {
                assert!(turned.plastic_strain.is_finite() && turned.utilisation.is_finite());
            }
        }
    }
}

#[test]
fn a_finer_pitch_has_a_larger_stress_area() {
    for system in [System::Metric, System::Unified] {
        let mut by_diameter: Vec<(f64, f64, f64)> = Thread::standard(system)
            .map(|thread| {
                let form = form(&thread.to_string());
                (form.major().millimeters(), form.pitch().millimeters(), form.stress_area().square_millimeters())
            })
            .collect();
        by_diameter.sort_by(|a, b| a.partial_cmp(b).unwrap());
        let mut compared = 0;
        for pair in by_diameter.windows(2) {
            let ((d0, fine, area_fine), (d1, coarse, area_coarse)) = (pair[0], pair[1]);
            if d0 == d1 && fine < coarse {
                assert!(area_fine > area_coarse, "{d0} mm");
                compared += 1;
            }
        }
        assert!(compared > 10, "{system:?}: {compared}");
    }
}
