//! How often each slip happens, given that one happened: judgement, not measurement.
//!
//! Forty misprints are too few to count kinds by; the shares below follow what practice names as usual (common
//! practice, no source) and were fixed before any table was judged with them. They matter little: a slip that fits
//! beats one that does not by orders of magnitude.

/// Share of wrong numbers among stated ones: the misprints of the published tables are 4 in 100 rows (`tests/it/corpus`),
/// and typing adds its own.
pub const WRONG: f64 = 0.06;

/// Teen heard as ty or back, where the number has one.
pub const HEARD: f64 = 0.08;
/// Tens and ones swapped by ear, on top of the transpositions by hand.
pub const SWAPPED: f64 = 0.01;
/// Two neighbouring digits transposed.
pub const TRANSPOSED: f64 = 0.09;
/// A digit read as a similar one.
pub const MISREAD: f64 = 0.12;
/// A digit typed as any other; keys that lie together are likelier.
pub const MISTYPED: f64 = 0.06;
/// A digit left out.
pub const DROPPED: f64 = 0.05;
/// A digit too many.
pub const DOUBLED: f64 = 0.04;
/// The point lost, and as often gained.
pub const POINT: f64 = 0.10;
/// The point moved by two or three places, each way.
pub const POINT_FAR: f64 = 0.005;
/// The unit mistaken, shared among the pairs.
pub const UNIT: f64 = 0.15;
/// The value of the next size, either way.
pub const NEXT_SIZE: f64 = 0.11;
/// The value of the other pitch.
pub const OTHER_PITCH: f64 = 0.03;
/// Right pairs of a coarse and a fine thread that have the same figure on purpose, among all pairs.
pub const EQUAL_PITCHES: f64 = 0.05;
/// Right values of assorted joints that are rightly the same as that of a neighbour: one wrench setting serves for many.
pub const EQUAL_ASSORTED: f64 = 0.1;
/// The value of another class.
pub const NEXT_CLASS: f64 = 0.03;
/// The value of another fastener of the joint.
pub const OTHER_FASTENER: f64 = 0.03;
/// The torque of an earlier stage.
pub const EARLIER_STAGE: f64 = 0.03;
/// An angle typed as a torque, where a torque comes before it.
pub const ANGLE: f64 = 0.05;
/// Angles that people turn by, and how often (common practice, no source).
pub const TURNS: [(f64, f64); 9] = [
    (30.0, 0.08),
    (45.0, 0.08),
    (60.0, 0.15),
    (75.0, 0.03),
    (90.0, 0.35),
    (120.0, 0.1),
    (135.0, 0.03),
    (180.0, 0.1),
    (270.0, 0.02),
];
/// Anything else.
pub const UNEXPLAINED: f64 = 0.06;

/// Digits that print and handwriting make alike.
pub const LOOK_ALIKE: [(char, char); 3] = [('1', '7'), ('3', '8'), ('5', '6')];

/// The keys that lie beside each other on a number pad (the layout of ISO/IEC 9995-4, from memory).
#[must_use]
pub fn keys_together(a: char, b: char) -> bool {
    let beside = |key| match key {
        '1' => "24",
        '2' => "135",
        '3' => "26",
        '4' => "157",
        '5' => "2468",
        '6' => "359",
        '7' => "48",
        '8' => "579",
        '9' => "68",
        _ => "",
    };
    beside(a).contains(b) || (a == '0' && "12".contains(b)) || (b == '0' && "12".contains(a))
}
