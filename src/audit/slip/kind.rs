//! The ways in which a right number becomes a wrong one.

use super::chances;

/// A slip: a way a right number becomes a wrong one on its way into the book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Slip {
    /// Thirteen written as thirty.
    HeardTeenAsTy,
    /// Thirty written as thirteen.
    HeardTyAsTeen,
    /// Tens and ones swapped, as languages that say the ones first invite.
    TensAndOnesSwapped,
    /// Two neighbouring digits in the wrong order.
    DigitsTransposed,
    /// One digit read as a similar one.
    DigitMisread,
    /// One digit typed as another.
    DigitMistyped,
    /// A digit left out.
    DigitDropped,
    /// A digit too many, mostly one typed twice.
    DigitDoubled,
    /// The decimal point left out or moved to the right.
    PointLost,
    /// A decimal point too many or moved to the left.
    PointGained,
    /// Right number, wrong unit.
    WrongUnit,
    /// The value of the next size in the table.
    NextSize,
    /// The value of another property class at the same thread.
    NextClass,
    /// The coarse thread's value at the fine one, or the reverse.
    OtherPitch,
    /// The value of another fastener of the same joint.
    OtherFastener,
    /// The torque of an earlier stage.
    EarlierStage,
    /// An angle typed as a torque.
    AngleAsTorque,
    /// A torque typed as an angle.
    TorqueAsAngle,
    /// The ends of a range swapped.
    EndsSwapped,
    /// Only a disagreement is seen; how it came about is not.
    Unexplained,
}

impl Slip {
    /// Every slip.
    pub const ALL: [Self; 20] = [
        Self::HeardTeenAsTy,
        Self::HeardTyAsTeen,
        Self::TensAndOnesSwapped,
        Self::DigitsTransposed,
        Self::DigitMisread,
        Self::DigitMistyped,
        Self::DigitDropped,
        Self::DigitDoubled,
        Self::PointLost,
        Self::PointGained,
        Self::WrongUnit,
        Self::NextSize,
        Self::NextClass,
        Self::OtherPitch,
        Self::OtherFastener,
        Self::EarlierStage,
        Self::AngleAsTorque,
        Self::TorqueAsAngle,
        Self::EndsSwapped,
        Self::Unexplained,
    ];

    /// The name in findings: `heard-teen-as-ty`.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.words().0
    }

    /// How often it happens, given that some slip does: judgement, fixed before it was measured.
    #[must_use]
    pub fn chance(self) -> f64 {
        match self {
            Self::HeardTeenAsTy | Self::HeardTyAsTeen => chances::HEARD,
            Self::TensAndOnesSwapped => chances::SWAPPED,
            Self::DigitsTransposed => chances::TRANSPOSED,
            Self::DigitMisread => chances::MISREAD,
            Self::DigitMistyped => chances::MISTYPED,
            Self::DigitDropped => chances::DROPPED,
            Self::DigitDoubled => chances::DOUBLED,
            Self::PointLost | Self::PointGained => chances::POINT,
            Self::WrongUnit => chances::UNIT,
            Self::NextSize => chances::NEXT_SIZE,
            Self::NextClass => chances::NEXT_CLASS,
            Self::OtherPitch => chances::OTHER_PITCH,
            Self::OtherFastener => chances::OTHER_FASTENER,
            Self::EarlierStage => chances::EARLIER_STAGE,
            Self::AngleAsTorque | Self::TorqueAsAngle => chances::ANGLE,
            Self::EndsSwapped => chances::UNEXPLAINED / 2.0,
            Self::Unexplained => chances::UNEXPLAINED,
        }
    }

    /// What happened, in a few words.
    #[must_use]
    pub fn sentence(self) -> &'static str {
        self.words().1
    }

    fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::HeardTeenAsTy => ("heard-teen-as-ty", "thirteen heard as thirty, or the like"),
            Self::HeardTyAsTeen => ("heard-ty-as-teen", "thirty heard as thirteen, or the like"),
            Self::TensAndOnesSwapped => {
                ("tens-and-ones-swapped", "tens and ones swapped, as languages that say the ones first invite")
            }
            Self::DigitsTransposed => ("digits-transposed", "two digits in the wrong order"),
            Self::DigitMisread => ("digit-misread", "one digit read as a similar one"),
            Self::DigitMistyped => ("digit-mistyped", "one digit typed as another"),
            Self::DigitDropped => ("digit-dropped", "a digit left out"),
            Self::DigitDoubled => ("digit-doubled", "a digit too many"),
            Self::PointLost => ("point-lost", "the decimal point lost or moved to the right"),
            Self::PointGained => ("point-gained", "a decimal point too many or moved to the left"),
            Self::WrongUnit => ("wrong-unit", "right number, wrong unit"),
            Self::NextSize => ("next-size", "the value of the next size"),
            Self::NextClass => ("next-class", "the value of another property class"),
            Self::OtherPitch => ("other-pitch", "the value of the other pitch of this diameter"),
            Self::OtherFastener => ("other-fastener", "the value of another fastener of the joint"),
            Self::EarlierStage => ("earlier-stage", "the torque of an earlier stage"),
            Self::AngleAsTorque => ("angle-as-torque", "an angle typed as a torque"),
            Self::TorqueAsAngle => ("torque-as-angle", "a torque typed as an angle"),
            Self::EndsSwapped => ("ends-swapped", "the ends of the range swapped"),
            Self::Unexplained => ("unexplained", "no known slip explains it"),
        }
    }
}

impl std::fmt::Display for Slip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_slip_is_listed_once_and_has_a_name_of_its_own() {
        let names: std::collections::BTreeSet<_> = Slip::ALL.iter().map(|slip| slip.name()).collect();
        assert_eq!(names.len(), Slip::ALL.len());
        for (i, slip) in Slip::ALL.iter().enumerate() {
            assert_eq!(*slip as usize, i, "{slip}: the list is in the order of the type");
        }
    }
}
