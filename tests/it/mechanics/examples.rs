//! Worked examples of textbooks and documents, with their own rounding as the tolerance.

use super::{bolt, form, inches, mm, mpa, near, newton_meters, newtons};
use clampbook::mechanics::resilience::Resilience;
use clampbook::mechanics::{
    Adapter, ClampedParts, EngagedThread, Friction, HeadBearing, JointKind, Layer, LoadedJoint, ThreadForm,
    TighteningFactor, TorquedBolt, torque_by_nut_factor,
};
use clampbook::units::{Angle, Area, Force, MILLIMETERS_PER_INCH, NEWTONS_PER_POUND_FORCE, Stress, Torque};

fn pounds(value: f64) -> Force {
    newtons(value * NEWTONS_PER_POUND_FORCE)
}

fn psi(value: f64) -> Stress {
    mpa(value * NEWTONS_PER_POUND_FORCE / MILLIMETERS_PER_INCH.powi(2))
}

fn square_inches(value: f64) -> Area {
    inches(1.0) * inches(1.0) * value
}

/// Of a stiffness in lbf/in.
fn resilience(stiffness: f64) -> Resilience {
    let newtons_per_millimeter = stiffness * NEWTONS_PER_POUND_FORCE / MILLIMETERS_PER_INCH;
    Resilience::from_millimeters_per_newton(1.0 / newtons_per_millimeter).unwrap()
}

/// Stiffness in lbf/in.
fn stiffness(resilience: Resilience) -> f64 {
    MILLIMETERS_PER_INCH / NEWTONS_PER_POUND_FORCE / resilience.millimeters_per_newton()
}

fn pound_inches(torque: Torque) -> f64 {
    torque.newton_meters() * 1000.0 / NEWTONS_PER_POUND_FORCE / MILLIMETERS_PER_INCH
}

#[test]
fn stress_and_stiffness_under_load() {
    // Shigley's Mechanical Engineering Design, 9th ed., example 8-3(a): 3/4-16 UNF grade 5
    let area = square_inches(0.373);
    let joint = LoadedJoint::new(pounds(25_000.0), resilience(6.50e6), resilience(13.8e6)).unwrap();
    near("C", joint.constant(), 0.320, 0.0005);
    near("preload stress, kpsi", pounds(25_000.0) / area / psi(1000.0), 67.02, 0.005);
    let service = joint.bolt_force(pounds(6000.0)).unwrap() / area;
    near("service stress, kpsi", service / psi(1000.0), 72.17, 0.01);
}

#[test]
fn torque_by_short_and_long_form() {
    // Same book, example 8-3(b), (c); answers 3750 and 3551 lbf·in from memory
    let short = torque_by_nut_factor(0.20, inches(0.75), pounds(25_000.0)).unwrap();
    near("(b)", pound_inches(short), 3750.0, 1e-6);
    // Root and mean diameter as the book takes them: dr = √(4 Ar/π), dm = (d + dr)/2
    let root = (4.0 * 0.351 / std::f64::consts::PI).sqrt();
    let form = ThreadForm::new(
        inches(0.75),
        inches(1.0 / 16.0),
        inches(f64::midpoint(0.75, root)),
        inches(root),
        square_inches(0.373),
    )
    .unwrap();
    let bearing = HeadBearing::of_mean_diameter(inches(1.25 * 0.75)).unwrap();
    let bolt = TorquedBolt::new(form, bearing, Friction::same(0.15).unwrap());
    near("K", bolt.nut_factor(), 0.18938, 0.00001);
    near("(c)", pound_inches(bolt.torque_for(pounds(25_000.0)).unwrap()), 3551.0, 0.5);
}

#[test]
fn cast_iron_members() {
    // Same book, example 8-4: 5/8-11 UNC grade 5, ld = lt = 0.75 in, cones of 30° from 1.5 d
    let (d, half) = (inches(0.625), inches(0.75));
    let steel = psi(30e6);
    let shank = Resilience::rod(half, square_inches(std::f64::consts::PI / 4.0 * 0.625_f64.powi(2)), steel).unwrap();
    let thread = Resilience::rod(half, square_inches(0.226), steel).unwrap();
    near("kb, Mlbf/in", stiffness(shank + thread) / 1e6, 5.21, 0.006);
    let wide = d * 100.0;
    let members = ClampedParts::new(JointKind::ThroughBolted, d * 1.5, d, wide)
        .and_then(|parts| parts.with_cone(30_f64.to_radians().tan()))
        .unwrap()
        .resilience(&[Layer::new(inches(1.5), psi(14e6)).unwrap()]);
    near("km, Mlbf/in", stiffness(members) / 1e6, 8.95, 0.006);
    let joint = LoadedJoint::new(pounds(14_400.0), shank + thread, members).unwrap();
    near("C", joint.constant(), 0.368, 0.0006);
    // Six bolts under 36 kip; the book rounds C and Fi before dividing.
    let (proof, load) = (psi(85_000.0) * square_inches(0.226), pounds(6000.0));
    near("load factor", joint.load_factor(proof, load).unwrap(), 2.18, 0.01);
    near("yield factor", joint.yield_factor(proof, load).unwrap(), 1.16, 0.006);
    near("separation factor", joint.separation_factor(load).unwrap(), 3.80, 0.005);
}

#[test]
fn raising_and_lowering_a_power_screw() {
    // Same book, solution of problem 8-4: square thread, friction 0.09, collar 0.06 on 45 mm, lead 5 mm, dm 22.5 mm
    let area = Area::from_square_millimeters(std::f64::consts::PI / 4.0 * 21.0 * 21.0);
    let form = ThreadForm::new(mm(25.0), mm(5.0), mm(22.5), mm(20.0), area)
        .and_then(|form| form.with_flank_half_angle(Angle::from_degrees(0.0)))
        .unwrap();
    let bearing = HeadBearing::of_mean_diameter(mm(45.0)).unwrap();
    let screw = TorquedBolt::new(form, bearing, Friction::new(0.09, 0.06).unwrap());
    let load = newtons(5000.0);
    let up = screw.torque_for(load).unwrap().newton_meters();
    near("up, N·m", up, 15.85, 0.005);
    near("down, N·m", screw.loosening_torque(load).unwrap().newton_meters(), 7.83, 0.005);
    near("efficiency", 5.0 * 5.0 / (2.0 * std::f64::consts::PI * up), 0.251, 0.0005);
}

#[test]
fn series_of_layers() {
    // T. H. Brown, Marks' Calculations for Machine Design, ch. 8, example 2
    let series = resilience(2.74e7) + resilience(1.42e7) + resilience(2.69e8);
    near("lbf/in", stiffness(series), 9.04e6, 0.005e6);
    let metric = |meganewtons_per_meter: f64| {
        Resilience::from_millimeters_per_newton(1.0 / (meganewtons_per_meter * 1000.0)).unwrap()
    };
    let series = metric(4480.0) + metric(2280.0) + metric(49_800.0);
    near("N/m", 1000.0 / series.millimeters_per_newton(), 1.47e9, 0.005e9);
}

#[test]
fn joint_constants() {
    // Same book, pp. 335 and 345, printed to two digits
    for (bolt, members, expected) in [(3.03e6, 9.04e6, 0.25), (6.38e6, 17.0e6, 0.27)] {
        let joint = LoadedJoint::new(newtons(1.0), resilience(bolt), resilience(members)).unwrap();
        near("C", joint.constant(), expected, 0.005);
    }
    // Given in N/m on the same pages; a ratio has no unit.
    for (bolt, members, expected) in [(4.66e8, 1.47e9, 0.24), (1.20e9, 3.03e9, 0.28)] {
        let joint = LoadedJoint::new(newtons(1.0), resilience(bolt), resilience(members)).unwrap();
        near("C", joint.constant(), expected, 0.005);
    }
}

#[test]
fn permanent_joints() {
    // Same book, p. 346
    let joint = LoadedJoint::with_constant(pounds(17_280.0), 0.27).unwrap();
    near("load factor", joint.load_factor(pounds(19_200.0), pounds(4000.0)).unwrap(), 1.78, 0.005);
    near("separation", joint.separation_factor(pounds(4000.0)).unwrap(), 5.9, 0.05);
    let joint = LoadedJoint::with_constant(newtons(84_780.0), 0.28).unwrap();
    near("load factor", joint.load_factor(newtons(94_200.0), newtons(18_000.0)).unwrap(), 1.87, 0.005);
    near("separation", joint.separation_factor(newtons(18_000.0)).unwrap(), 6.5, 0.05);
}

#[test]
fn a_load_that_nearly_opens_a_joint() {
    // Exam problem M1a after Juvinall: clamp 2250 lbf, bolt twice as stiff as the parts, 225 lbf left at 6075 lbf
    let joint = LoadedJoint::new(pounds(2250.0), resilience(2e6), resilience(1e6)).unwrap();
    near("clamp left, lbf", joint.clamp_force(pounds(6075.0)).unwrap() / pounds(1.0), 225.0, 0.001);
    near("bolt, lbf", joint.bolt_force(pounds(6075.0)).unwrap() / pounds(1.0), 6300.0, 0.001);
}

#[test]
fn a_distributors_dry_torques() {
    // Distributor's table for grade 2 bolts: 0.75 × proof strength × stress area, K 0.20; proof 55 ksi, 33 ksi above 3/4
    for (designation, proof, clamp, torque) in [
        ("1/4-20 UNC", 55_000.0, 1312.0, 5.47),
        ("1/2-13 UNC", 55_000.0, 5853.0, 48.8),
        ("3/4-10 UNC", 55_000.0, 13_778.0, 172.2),
        ("1-8 UNC", 33_000.0, 14_999.0, 250.0),
        ("1 1/2-6 UNC", 33_000.0, 34_774.0, 869.3),
    ] {
        let form = form(designation);
        // The table takes areas of three or four digits.
        let preload = psi(0.75 * proof) * form.stress_area();
        near(designation, preload / pounds(clamp), 1.0, 0.002);
        let short = torque_by_nut_factor(0.20, form.major(), pounds(clamp)).unwrap();
        near(designation, pound_inches(short) / 12.0 / torque, 1.0, 0.001);
    }
}

#[test]
fn smallest_preload() {
    // VDI 2230 tables of a fastener maker, 2021: M12 × 40, 8.8, µ 0.14, αA 1.8
    let greatest = bolt(form("M12"), 15.065, 0.14).preload_at(0.9, mpa(640.0)).unwrap();
    near("FM max, kN", greatest.newtons() / 1000.0, 41.9, 0.05);
    let scatter = TighteningFactor::new(1.8).unwrap().below(greatest).unwrap();
    near("FM min, kN", scatter.min.newtons() / 1000.0, 23.3, 0.05);
}

#[test]
fn adapters() {
    // A hand-tool maker's manual: 50 lbf·ft, L 16 in, E 2 in
    let adapter = |length, offset, angle| Adapter::new(length, offset, Angle::from_degrees(angle)).unwrap();
    let setting = adapter(inches(16.0), inches(2.0), 0.0).setting_for(newton_meters(50.0)).unwrap();
    near("in line", setting.newton_meters(), 44.44, 0.005);
    // Derived from the formula, by hand
    for (torque, angle, expected) in
        [(80.0, 0.0, 71.11), (80.0, 90.0, 80.0), (100.0, 45.0, 91.88), (100.0, 180.0, 114.29)]
    {
        let setting = adapter(mm(400.0), mm(50.0), angle).setting_for(newton_meters(torque)).unwrap();
        near("at an angle", setting.newton_meters(), expected, 0.005);
    }
}

/// Least and greatest diameters of classes 2A and 2B (ASME B1.1, from memory): n, Ds min, Es min, Kn max, En max.
const LIMITS: [(f64, f64, f64, f64, f64); 3] = [
    (20.0, 0.2408, 0.2127, 0.207, 0.2224),
    (16.0, 0.3643, 0.3287, 0.321, 0.3401),
    (13.0, 0.4876, 0.4435, 0.434, 0.4565),
];

fn engaged((n, major, pitch, tapped_minor, tapped_pitch): (f64, f64, f64, f64, f64)) -> EngagedThread {
    EngagedThread::new(inches(1.0 / n), inches(major), inches(pitch), inches(tapped_pitch), inches(tapped_minor))
        .unwrap()
}

#[test]
fn shear_areas_per_inch() {
    // FED-STD-H28, thread shear areas per inch of engagement (from memory), in²: 1/4-20, 3/8-16, 1/2-13
    let expected = [(0.368, 0.539), (0.576, 0.828), (0.779, 1.12)];
    for (limits, (bolt, tapped)) in LIMITS.into_iter().zip(expected) {
        let one = square_inches(1.0);
        near("bolt", engaged(limits).bolt_shear_area(inches(1.0)).unwrap() / one, bolt, 0.0006);
        near("tapped", engaged(limits).tapped_shear_area(inches(1.0)).unwrap() / one, tapped, 0.0045);
    }
}

#[test]
fn engagement_for_full_strength() {
    // Machinery's Handbook, 24th ed., length of engagement: 1/2-13 of equal materials, Le = 2 · 0.1419/0.7789 in
    let thread = engaged(LIMITS[2]);
    let area = square_inches(0.1419);
    let equal = thread.handbook_engagement(area, psi(120_000.0), psi(120_000.0)).unwrap();
    near("Le, in", equal.inches(), 0.364, 0.0006);
    // A weaker hole: J = (0.7789 · 120)/(1.1235 · 60)
    let weak = thread.handbook_engagement(area, psi(120_000.0), psi(60_000.0)).unwrap();
    near("Q, in", weak.inches(), 0.3643 * 0.77894 * 2.0 / 1.12349, 0.001);
}
