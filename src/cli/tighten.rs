//! `tighten`: what a bolt is tightened to, and what a torque and turns come to.

use super::failure::Failure;
use super::output::Output;
use super::tighten_view::{TighteningView, Units};
use crate::record::{
    AngleSetting, Drive, DriveSize, DriveType, Friction, Head, Seat, Setting, Tapped, Text, TorqueSetting,
};
use crate::standards::PropertyClass;
use crate::thread::Designation;
use crate::tightening::{AdapterSize, NoTightening, TighteningRequest, TorsionForm, WasherSeries, tightening};
use crate::units::{StatedAngle, StatedLength, StatedTorque, TorqueUnit, Unit};

/// What a bolt is tightened to, and what a torque and turns come to.
///
/// No store is needed. What is not stated is assumed, and the answer says so.
#[derive(Debug, clap::Args)]
#[command(next_line_help = false)]
pub struct Arguments {
    /// The thread: M8, M10x1.25, "3/8-16 UNC"; a tolerance class may follow (M8-6g).
    #[arg(value_name = "THREAD")]
    thread: Designation,
    /// The property class of the bolt: 8.8, A2-70, "grade 8".
    #[arg(value_name = "CLASS")]
    class: PropertyClass,
    /// What the head looks like: hexagon, hexagon-flange, socket-cap, countersunk …
    #[arg(long, value_name = "HEAD")]
    head: Option<Head>,
    /// What the tool goes on; tells the head where that is not given.
    #[arg(long, value_name = "DRIVE")]
    drive: Option<DriveType>,
    /// Coefficient of friction in the thread and under the head: 0.12 or 0.10-0.16.
    #[arg(long, value_name = "MU")]
    friction: Option<Friction>,
    /// Coefficient in the thread, where it differs.
    #[arg(long, value_name = "MU")]
    friction_thread: Option<Friction>,
    /// Coefficient under the head, where it differs.
    #[arg(long, value_name = "MU")]
    friction_head: Option<Friction>,
    /// The surface; tells the friction where that is not given.
    #[arg(long, value_name = "WORDS")]
    finish: Option<Text>,
    /// What is on thread and head: oiled, dry, paste …; tells the friction where that is not given.
    #[arg(long, value_name = "WORDS")]
    lubrication: Option<Text>,
    /// The share of the yield strength to tighten to, where no torque is given [default: 0.9].
    #[arg(long, value_name = "SHARE")]
    utilisation: Option<f64>,
    /// The torque to judge, before any turn: "25 N·m", "20-25 N·m".
    #[arg(long, value_name = "TORQUE")]
    torque: Option<TorqueSetting>,
    /// A turn after the torque, in degrees: 90. May be given several times.
    #[arg(long, value_name = "ANGLE", value_parser = turn)]
    angle: Vec<AngleSetting>,
    /// What a self-locking nut takes.
    #[arg(long, value_name = "TORQUE")]
    prevailing: Option<StatedTorque>,
    /// The thickness of the clamped parts: "22 mm".
    #[arg(long, value_name = "LENGTH")]
    grip: Option<StatedLength>,
    /// Nominal length of the bolt.
    #[arg(long, value_name = "LENGTH")]
    length: Option<StatedLength>,
    /// The length of the used bolt, measured.
    #[arg(long, value_name = "LENGTH", requires = "length", requires = "angle")]
    measured: Option<StatedLength>,
    /// The material under the head.
    #[arg(long, value_name = "MATERIAL")]
    seat: Option<Text>,
    /// The hole in it.
    #[arg(long, value_name = "LENGTH")]
    hole: Option<StatedLength>,
    /// The washer under the head: none, normal, large.
    #[arg(long, value_name = "SERIES")]
    washer: Option<WasherSeries>,
    /// The material that the thread goes into; without it, a nut.
    #[arg(long, value_name = "MATERIAL")]
    into: Option<Text>,
    /// How far the thread reaches into it.
    #[arg(long, value_name = "LENGTH", requires = "into")]
    engagement: Option<StatedLength>,
    /// The range of a torque wrench at hand: "10-60 N·m". May be given several times.
    #[arg(long, value_name = "RANGE")]
    wrench: Vec<TorqueSetting>,
    /// From the wrench's drive to the middle of its grip.
    #[arg(long, value_name = "LENGTH", requires = "adapter")]
    wrench_length: Option<StatedLength>,
    /// From the wrench's drive to the fastener, with an adapter.
    #[arg(long, value_name = "LENGTH", requires = "wrench_length")]
    adapter: Option<StatedLength>,
    /// The angle between adapter and wrench, in degrees: 0 in line, 90 across.
    #[arg(long, value_name = "ANGLE", requires = "adapter", value_parser = stated_angle)]
    adapter_angle: Option<StatedAngle>,
    /// How torsion is counted: plastic, or elastic as in tables from before 2001.
    #[arg(long, value_name = "FORM")]
    torsion: Option<TorsionForm>,
    /// The unit of torque to answer in; without it, that of --torque.
    #[arg(long = "in", value_name = "UNIT", value_parser = torque_unit)]
    unit: Option<TorqueUnit>,
}

/// A turn: degrees where no unit is written.
fn turn(text: &str) -> Result<AngleSetting, String> {
    with_degrees(text, |text| text.parse().map_err(|error: crate::units::TextError| error.to_string()))
}

fn stated_angle(text: &str) -> Result<StatedAngle, String> {
    with_degrees(text, |text| text.parse().map_err(|error: crate::units::TextError| error.to_string()))
}

fn with_degrees<T>(text: &str, parse: impl Fn(&str) -> Result<T, String>) -> Result<T, String> {
    parse(text).or_else(|error| parse(&format!("{text}°")).map_err(|_| error))
}

fn torque_unit(text: &str) -> Result<TorqueUnit, String> {
    TorqueUnit::from_name(text).ok_or_else(|| format!("not a unit of torque; known are {}", TorqueUnit::symbols()))
}

impl Arguments {
    fn request(&self) -> TighteningRequest {
        let seat =
            (self.seat.is_some() || self.hole.is_some()).then(|| Seat { material: self.seat.clone(), hole: self.hole });
        let into = self.into.clone();
        let into = into.map(|material| Tapped { material: Some(material), engagement: self.engagement });
        let adapter = self.wrench_length.zip(self.adapter).map(|(wrench_length, adapter_length)| AdapterSize {
            wrench_length,
            adapter_length,
            angle: self.adapter_angle,
        });
        TighteningRequest {
            thread_class: self.thread.class.clone(),
            head: self.head,
            drive: self.drive.map(|kind| Drive { kind, size: None::<DriveSize> }),
            friction: self.friction,
            friction_thread: self.friction_thread,
            friction_head: self.friction_head,
            finish: self.finish.clone(),
            lubrication: self.lubrication.clone(),
            utilisation: self.utilisation,
            torque: self.torque,
            angles: self.angle.clone(),
            prevailing_torque: self.prevailing,
            grip: self.grip,
            length: self.length,
            measured_length: self.measured,
            seat,
            washer: self.washer,
            into,
            wrenches: self.wrench.clone(),
            adapter,
            torsion: self.torsion,
            ..TighteningRequest::new(self.thread.thread.clone(), self.class.clone())
        }
    }
}

/// Shows what a bolt is tightened to.
///
/// # Errors
/// If the thread has no known size or the class no strength (the answer is no), or a number is beyond its range.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let request = arguments.request();
    let answer = tightening(&request).map_err(|reason| failure(&request, &reason))?;
    let torque = arguments.unit.or(arguments.torque.map(Setting::unit)).unwrap_or(TorqueUnit::NewtonMeter);
    output.show(&TighteningView { answer, units: Units::of(torque) })
}

/// Why there is no answer, and what to write instead.
fn failure(request: &TighteningRequest, reason: &NoTightening) -> Failure {
    let hint = match reason {
        NoTightening::OutOfRange(_) => return Failure::usage(reason),
        NoTightening::NoGeometry(_) => " Write it like M10 or \"3/8-16 UNC\".".to_owned(),
        NoTightening::NoStrength(_) => {
            let nearest: Vec<String> = request.property_class.nearest().iter().map(ToString::to_string).collect();
            let is_known = request.property_class.is_known() || nearest.is_empty();
            if is_known { String::new() } else { format!(" Nearest: {}.", nearest.join(", ")) }
        }
    };
    Failure::no(Some(format!("{reason}.{hint}")))
}
