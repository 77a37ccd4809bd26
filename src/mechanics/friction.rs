//! Friction in the thread and under the head, as one pair or as a range of pairs.

use super::limit::{self, OutOfRange};

/// The greatest friction coefficient accepted. Dry stainless that is about to gall reaches about 0.5.
const FRICTION_MAX: f64 = 1.0;

/// A pair of friction coefficients µG (thread) and µK (head), each from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    thread: f64,
    head: f64,
}

impl Friction {
    /// A pair.
    ///
    /// # Errors
    /// If either is not from 0 to 1.
    pub fn new(thread: f64, head: f64) -> Result<Self, OutOfRange> {
        let thread = limit::number("thread friction", (0.0, FRICTION_MAX), thread)?;
        let head = limit::number("head friction", (0.0, FRICTION_MAX), head)?;
        Ok(Self { thread, head })
    }

    /// The same coefficient in the thread and under the head, as in the tables of VDI 2230-1.
    ///
    /// # Errors
    /// If it is not from 0 to 1.
    pub fn same(friction: f64) -> Result<Self, OutOfRange> {
        Self::new(friction, friction)
    }

    /// Coefficient in the thread, µG.
    #[must_use]
    pub fn thread(self) -> f64 {
        self.thread
    }

    /// Coefficient under the head, µK.
    #[must_use]
    pub fn head(self) -> f64 {
        self.head
    }
}

/// From the most slippery pair that is to be expected to the roughest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrictionRange {
    lowest: Friction,
    highest: Friction,
}

impl FrictionRange {
    /// A range.
    ///
    /// # Errors
    /// If one of the two coefficients of `highest` is below that of `lowest`.
    pub fn new(lowest: Friction, highest: Friction) -> Result<Self, OutOfRange> {
        limit::number("highest thread friction", (lowest.thread, FRICTION_MAX), highest.thread)?;
        limit::number("highest head friction", (lowest.head, FRICTION_MAX), highest.head)?;
        Ok(Self { lowest, highest })
    }

    /// The range of no width.
    #[must_use]
    pub fn only(friction: Friction) -> Self {
        Self { lowest: friction, highest: friction }
    }

    /// The lowest friction to be expected.
    #[must_use]
    pub fn lowest(self) -> Friction {
        self.lowest
    }

    /// The arithmetic mean of lowest and highest.
    #[must_use]
    pub fn middle(self) -> Friction {
        Friction {
            thread: f64::midpoint(self.lowest.thread, self.highest.thread),
            head: f64::midpoint(self.lowest.head, self.highest.head),
        }
    }

    /// The highest friction to be expected.
    #[must_use]
    pub fn highest(self) -> Friction {
        self.highest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_goes_upwards() {
        let (low, high) = (Friction::same(0.1).unwrap(), Friction::same(0.16).unwrap());
        assert!((FrictionRange::new(low, high).unwrap().middle().thread() - 0.13).abs() < 1e-12);
        assert_eq!(FrictionRange::new(high, low).unwrap_err().what, "highest thread friction");
        assert_eq!(Friction::new(0.1, 1.2).unwrap_err().what, "head friction");
    }
}
