//! How long a full evaluation of one bolt takes: it runs for every record on every audit.

use clampbook::mechanics::{
    AngleModel, BearingFace, BoltShape, ClampedParts, Counterpart, EngagedThread, Friction, FrictionRange, HeadBearing,
    HeadShape, JointKind, LEAST_SHARE, Layer, Strength, Stripping, ThreadForm, TorquedBolt, preload_over,
    tightening_range,
};
use clampbook::tightening::{TighteningRequest, tightening};
use clampbook::units::{Angle, Area, Length, Stress, Torque};
use divan::{Bencher, black_box};

fn main() {
    divan::main();
}

fn mm(value: f64) -> Length {
    Length::from_millimeters(value)
}

fn mpa(value: f64) -> Stress {
    Stress::from_megapascals(value)
}

fn m10() -> ThreadForm {
    ThreadForm::new(mm(10.0), mm(1.5), mm(9.026), mm(8.160), Area::from_square_millimeters(58.0)).expect("M10")
}

fn friction() -> FrictionRange {
    let of = |value| Friction::same(value).expect("a coefficient");
    FrictionRange::new(of(0.10), of(0.16)).expect("a range")
}

fn bolt() -> TorquedBolt {
    TorquedBolt::new(m10(), HeadBearing::flat(mm(14.6), mm(11.0)).expect("a head"), friction().middle())
}

fn model(grip: f64) -> AngleModel {
    let steel = mpa(205_000.0);
    let shape = BoltShape::threaded(m10(), HeadShape::Hexagon, mm(grip), Counterpart::Nut(steel))
        .and_then(|shape| shape.with_shank(mm(grip * 0.6), mm(10.0)))
        .expect("a bolt");
    let layers = [Layer::new(mm(grip), steel).expect("a layer")];
    let parts = ClampedParts::new(JointKind::ThroughBolted, mm(14.6), mm(11.0), mm(40.0)).expect("parts");
    let strength = Strength::new(mpa(640.0), mpa(800.0), 0.12).expect("8.8");
    AngleModel::new(bolt(), shape, parts.resilience(&layers), strength).expect("a joint")
}

/// Range, utilisation, torque and angle at three frictions, stripping and pressure.
#[divan::bench]
fn full_evaluation(bencher: Bencher) {
    bencher.bench(|| {
        let strength = mpa(black_box(640.0));
        let torque = Torque::from_newton_meters(black_box(30.0));
        let bolt = bolt();
        let range = tightening_range(&bolt, friction(), strength, LEAST_SHARE).expect("a range");
        let preload = preload_over(&bolt, friction(), torque).expect("a preload");
        let utilisation = bolt.utilisation(preload.max, strength).expect("a utilisation");
        let turned = model(black_box(40.0)).over(friction(), torque, Angle::from_degrees(black_box(90.0)));
        let preload = turned.as_ref().map(|turned| turned.lowest.preload).expect("a turn");
        let thread = EngagedThread::new(mm(1.5), mm(9.732), mm(8.862), mm(9.206), mm(8.676)).expect("a thread");
        let stripping = Stripping::new(thread, mpa(500.0), mpa(black_box(110.0))).expect("a material");
        let strip = stripping.forces(mm(14.0)).expect("an engagement");
        let needed = stripping.engagement_for(preload).expect("an engagement");
        let face = BearingFace::new(mm(14.6), mm(11.0)).expect("a face");
        let pressure = face.pressure(preload, mpa(black_box(220.0))).expect("a pressure");
        (range, utilisation, turned, strip, needed, pressure)
    });
}

/// Torque alone: what the audit does for most records.
#[divan::bench]
fn range_and_utilisation(bencher: Bencher) {
    bencher.bench(|| {
        let strength = mpa(black_box(640.0));
        let bolt = bolt();
        let range = tightening_range(&bolt, friction(), strength, LEAST_SHARE).expect("a range");
        let preload = preload_over(&bolt, friction(), Torque::from_newton_meters(black_box(30.0))).expect("a preload");
        (range, bolt.utilisation(preload.max, strength).expect("a utilisation"))
    });
}

/// One turn far beyond yield, which takes the longest to solve.
#[divan::bench]
fn turn_beyond_yield(bencher: Bencher) {
    let model = model(40.0);
    bencher.bench(|| {
        model.after(Torque::from_newton_meters(black_box(30.0)), Angle::from_degrees(black_box(180.0))).expect("a turn")
    });
}

/// The same question as a record asks it: tables looked up, assumptions put into words, one stated grip.
#[divan::bench]
fn joined_answer(bencher: Bencher) {
    let request = request(Some("40 mm"));
    bencher.bench(|| tightening(black_box(&request)).expect("an answer"));
}

/// The same with an unknown grip: seven plausible ones, with and without a shank.
#[divan::bench]
fn joined_answer_over_grips(bencher: Bencher) {
    let request = request(None);
    bencher.bench(|| tightening(black_box(&request)).expect("an answer"));
}

fn request(grip: Option<&str>) -> TighteningRequest {
    let mut request = TighteningRequest::new("M10".parse().expect("a thread"), "8.8".parse().expect("a class"));
    request.friction = Some("0.10-0.16".parse().expect("a friction"));
    request.torque = Some("30 N·m".parse().expect("a torque"));
    request.angles = vec!["90°".parse().expect("an angle")];
    request.grip = grip.map(|grip| grip.parse().expect("a length"));
    request
}
