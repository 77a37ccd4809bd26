//! What is asked about a tightening. Only thread and class must be given; what else is missing is assumed, and said.

use crate::record::field::{Field, fields, text_fields};
use crate::record::{
    AngleSetting, Drive, Fastener, Fault, Friction, Head, Place, Refused, Seat, Stage, Start, Tapped, Text,
    TorqueSetting, UnknownWord, words,
};
use crate::standards::PropertyClass;
use crate::thread::{Thread, ThreadClass};
use crate::units::{StatedAngle, StatedLength, StatedTorque};
use serde_json::Value;

words! {
    /// The washer under the head.
    WasherSeries, "a series of washers" {
        /// No washer.
        None = "none",
        /// Normal, ISO 7089.
        Normal = "normal",
        /// Large, ISO 7093-1.
        Large = "large",
    }
}

words! {
    /// How torsion is counted; see [`crate::mechanics::Torsion`].
    TorsionForm, "a form of torsion" {
        /// As in tables since 2001.
        Plastic = "plastic",
        /// As in older tables.
        Elastic = "elastic",
    }
}

fields! {
    /// An adapter that moves the fastener off the axis of the wrench's drive.
    pub struct AdapterSize {
        /// From the wrench's drive to the middle of its grip.
        pub wrench_length: StatedLength,
        /// From the wrench's drive to the fastener.
        pub adapter_length: StatedLength,
        /// Between adapter and wrench: 0° in line, 90° across; absent means in line.
        pub angle: Option<StatedAngle>,
    }
}

fields! {
    /// What is asked about a tightening.
    pub struct TighteningRequest {
        /// The thread.
        pub thread: Thread,
        /// The property class of the bolt.
        pub property_class: PropertyClass,
        /// The tolerance class of the bolt thread.
        pub thread_class: Option<ThreadClass>,
        /// What the head looks like.
        pub head: Option<Head>,
        /// What the tool goes on; tells the head where that is not given.
        pub drive: Option<Drive>,
        /// Coefficient of friction in the thread and under the head.
        pub friction: Option<Friction>,
        /// Coefficient in the thread, where it differs.
        pub friction_thread: Option<Friction>,
        /// Coefficient under the head, where it differs.
        pub friction_head: Option<Friction>,
        /// The surface; tells the friction where that is not given.
        pub finish: Option<Text>,
        /// What is on thread and head; tells the friction where that is not given.
        pub lubrication: Option<Text>,
        /// The utilisation that a torque is asked for; absent means 0.9.
        #[schema(minimum = 0.0, maximum = 10.0)]
        pub utilisation: Option<f64>,
        /// The share of the reference preload that clamps enough; absent means 0.5.
        #[schema(minimum = 0.0, maximum = 1.0)]
        pub least_share: Option<f64>,
        /// The torque to judge, before any turn.
        pub torque: Option<TorqueSetting>,
        /// The turns after it.
        #[schema(required = false, max_items = 400)]
        pub angles: Vec<AngleSetting>,
        /// What a self-locking nut takes.
        pub prevailing_torque: Option<StatedTorque>,
        /// The thickness of the clamped parts.
        pub grip: Option<StatedLength>,
        /// Nominal length of the bolt.
        pub length: Option<StatedLength>,
        /// The length of the used bolt, measured.
        pub measured_length: Option<StatedLength>,
        /// The part under the head.
        pub seat: Option<Seat>,
        /// The washer under the head.
        pub washer: Option<WasherSeries>,
        /// The part that the thread goes into; absent means a nut.
        pub into: Option<Tapped>,
        /// The torque wrenches at hand, each as its range; absent means the usual ones.
        #[schema(required = false, max_items = 400)]
        pub wrenches: Vec<TorqueSetting>,
        /// The adapter on the wrench.
        pub adapter: Option<AdapterSize>,
        /// How torsion is counted; absent means plastic.
        pub torsion: Option<TorsionForm>,
    }
}

impl TighteningRequest {
    /// The question with nothing but thread and class.
    #[must_use]
    pub fn new(thread: Thread, property_class: PropertyClass) -> Self {
        Self {
            thread,
            property_class,
            thread_class: None,
            head: None,
            drive: None,
            friction: None,
            friction_thread: None,
            friction_head: None,
            finish: None,
            lubrication: None,
            utilisation: None,
            least_share: None,
            torque: None,
            angles: Vec::new(),
            prevailing_torque: None,
            grip: None,
            length: None,
            measured_length: None,
            seat: None,
            washer: None,
            into: None,
            wrenches: Vec::new(),
            adapter: None,
            torsion: None,
        }
    }

    /// The question that a record asks: its last torque and the turns after it. `None` if the record states no property
    /// class.
    #[must_use]
    pub fn of_fastener(fastener: &Fastener) -> Option<Self> {
        let (torque, angles) = last_torque_and_turns(&fastener.stages);
        let class = fastener.property_class.clone()?;
        Some(Self {
            thread_class: fastener.thread_class.clone(),
            head: fastener.head,
            drive: fastener.drive.clone(),
            friction: fastener.friction,
            finish: fastener.finish.clone(),
            lubrication: fastener.lubrication.clone(),
            torque,
            angles,
            grip: fastener.grip,
            length: fastener.length,
            seat: fastener.seat.clone(),
            into: fastener.into.clone(),
            ..Self::new(fastener.thread.clone(), class)
        })
    }

    /// Reads a question from its JSON value.
    ///
    /// # Errors
    /// All faults at once, each with its place.
    pub fn from_json(value: &Value) -> Result<Self, Refused> {
        let mut faults: Vec<Fault> = Vec::new();
        let request = Self::read(value, &Place::root(), &mut faults);
        if let Some(request) = &request {
            faults.extend(out_of_range("utilisation", request.utilisation, UTILISATION_MAX));
            faults.extend(out_of_range("least_share", request.least_share, 1.0));
        }
        match request {
            Some(request) if faults.is_empty() => Ok(request),
            _ => Err(Refused(faults)),
        }
    }
}

/// The greatest utilisation that is asked for; bolts break long before.
const UTILISATION_MAX: f64 = 10.0;

fn out_of_range(name: &str, value: Option<f64>, most: f64) -> Option<Fault> {
    let value = value.filter(|value| !(0.0..=most).contains(value))?;
    let detail = format!("a number from 0 to {most} belongs here");
    Some(Fault::new("wrong-type", &Place::root().below(name), detail).given(value).allowed(format!("0 to {most}")))
}

/// The last torque that the stages reach, and all turns after it. Loosening starts anew; a check is no tightening.
#[must_use]
pub fn last_torque_and_turns(stages: &[Stage]) -> (Option<TorqueSetting>, Vec<AngleSetting>) {
    let (mut torque, mut angles) = (None, Vec::new());
    for stage in stages {
        match stage {
            Stage::Tighten { start, turns } => {
                match start {
                    Start::AsItIs => {}
                    Start::Hand => (torque, angles) = (None, Vec::new()),
                    Start::Torque(to) => (torque, angles) = (Some(*to), Vec::new()),
                }
                angles.extend(turns.iter().copied());
            }
            Stage::BackOff(_) => (torque, angles) = (None, Vec::new()),
            Stage::Check(_) | Stage::Skip => {}
        }
    }
    (torque, angles)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn last(stages: &[&str]) -> (String, usize) {
        let stages: Vec<Stage> = stages.iter().map(|stage| stage.parse().expect(stage)).collect();
        let (torque, angles) = last_torque_and_turns(&stages);
        (torque.map(|torque| torque.to_string()).unwrap_or_default(), angles.len())
    }

    #[test]
    fn the_last_torque_and_the_turns_after_it_count() {
        assert_eq!(last(&["hand", "8 N·m", "20 N·m + 90°"]), ("20 N·m".to_owned(), 1));
        assert_eq!(last(&["20 N·m", "+ 90°", "+ 45°", "check ≥ 60 N·m"]), ("20 N·m".to_owned(), 2));
        assert_eq!(last(&["40 N·m + 90°", "back off", "20 N·m"]), ("20 N·m".to_owned(), 0));
        assert_eq!(last(&["hand + 3/4 turn"]), (String::new(), 1));
    }

    #[test]
    fn all_faults_at_once() {
        let value = serde_json::json!({ "thread": "M8", "clas": "8.8", "torque": "25", "washer": "huge" });
        let Refused(faults) = TighteningRequest::from_json(&value).unwrap_err();
        let pointers: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(pointers, ["/clas", "/property_class", "/torque", "/washer"]);
    }

    #[test]
    fn reads_and_prints_the_same() {
        let value = serde_json::json!({
            "thread": "M8×1.25", "property_class": "8.8", "friction": "0.10-0.16", "torque": "20-25 N·m",
            "angles": ["90°", "45 ± 5°"], "wrenches": ["10-60 N·m"], "into": { "material": "EN AC-46000" },
        });
        let request = TighteningRequest::from_json(&value).unwrap();
        assert_eq!(serde_json::to_value(&request).unwrap(), value);
    }
}
