//! Closed lists of words: heads, drives, roles, reuse rules, locking, order patterns.

use super::fault::did_you_mean;
use super::field::text_fields;

macro_rules! words {
    ($(#[$doc:meta])* $name:ident, $what:literal { $( $(#[$vdoc:meta])* $variant:ident = $word:literal $(| $other:literal)*, )* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $( $(#[$vdoc])* $variant, )* }

        impl $name {
            /// Every one of them, in the order of the list.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];
            /// The words, in the same order.
            pub const WORDS: &'static [&'static str] = &[$($word),*];

            /// The word as written in a record.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }

            /// The word as read aloud: hyphens become spaces.
            #[must_use]
            pub fn words(self) -> String {
                self.word().replace('-', " ")
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.word())
            }
        }

        impl std::str::FromStr for $name {
            type Err = UnknownWord;
            fn from_str(text: &str) -> Result<Self, UnknownWord> {
                let word = text.trim().to_lowercase().replace([' ', '_'], "-");
                match word.as_str() {
                    $( $word $(| $other)* => Ok(Self::$variant), )*
                    _ => Err(UnknownWord { what: $what, given: text.to_owned(), known: Self::WORDS }),
                }
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = std::borrow::Cow::<str>::deserialize(deserializer)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .enum_values(Some(Self::WORDS.iter().copied()))
                    .description(Some($what))
                    .build()
                    .into()
            }
        }
        impl utoipa::ToSchema for $name {}

        text_fields!($name);
    };
}

pub(crate) use words;

/// A word that is not in its list.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{given}\" is not {what}{}; known are {}", self.suggestion(), self.known.join(", "))]
pub struct UnknownWord {
    /// What the list is of, with its article.
    pub what: &'static str,
    /// The word as given.
    pub given: String,
    /// The words of the list.
    pub known: &'static [&'static str],
}

impl UnknownWord {
    fn suggestion(&self) -> String {
        did_you_mean(&self.given, self.known).map(|hint| format!(" ({}?)", hint.to_lowercase())).unwrap_or_default()
    }
}

words! {
    /// What the head of a fastener looks like.
    Head, "a kind of head" {
        /// ISO 4014, ISO 4017.
        Hexagon = "hexagon" | "hex",
        /// ISO 4162, EN 1665.
        HexagonFlange = "hexagon-flange" | "hex-flange",
        /// Cylindrical, ISO 4762, ISO 14579.
        SocketCap = "socket-cap" | "cylindrical" | "cylinder",
        /// ISO 7380-1.
        Button = "button",
        /// ISO 10642, ISO 7046.
        Countersunk = "countersunk",
        /// ISO 7045, ISO 14583.
        Pan = "pan",
        /// ISO 1207.
        Cheese = "cheese",
        /// Twelve-point with a flange.
        TwelvePointFlange = "twelve-point-flange" | "twelve-point",
        /// External hexalobular with a flange.
        ExternalHexalobularFlange = "external-hexalobular-flange" | "external-hexalobular",
        /// Square.
        Square = "square",
        /// Mushroom or cup head with a square neck.
        Round = "round",
        /// Hexagon nut, ISO 4032.
        HexagonNut = "hexagon-nut" | "hex-nut" | "nut",
        /// Hexagon nut with a flange, ISO 4161.
        FlangeNut = "flange-nut",
        /// No head: studs and set screws.
        None = "none" | "headless",
    }
}

words! {
    /// What the tool goes on.
    DriveType, "a kind of drive" {
        /// Hexagon across flats.
        Hexagon = "hexagon" | "hex",
        /// Hexagon socket, ISO 4762.
        HexagonSocket = "hexagon-socket" | "hex-socket",
        /// Hexalobular socket, ISO 10664.
        HexalobularSocket = "hexalobular-socket" | "hexalobular",
        /// External hexalobular.
        ExternalHexalobular = "external-hexalobular",
        /// Twelve-point.
        TwelvePoint = "twelve-point" | "bihexagon",
        /// Cross recess, ISO 4757.
        CrossRecess = "cross-recess",
        /// Slot.
        Slot = "slot" | "slotted",
        /// Square.
        Square = "square",
        /// No drive: turned by hand or with a special tool.
        None = "none",
    }
}

words! {
    /// What kind of fastening it is.
    Role, "a kind of fastening" {
        /// An ordinary bolt or screw.
        Bolt = "bolt" | "screw",
        /// A nut on a bolt or stud.
        Nut = "nut",
        /// A stud while it is set into its part.
        StudSetting = "stud-setting",
        /// A drain, filler or blanking plug.
        Plug = "plug",
        /// The nut of a pipe union.
        UnionNut = "union-nut",
        /// A large nut that holds something on a shaft.
        ShaftNut = "shaft-nut",
        /// A nut that locks another thread.
        LockNut = "lock-nut",
        /// A headless screw that presses with its end.
        SetScrew = "set-screw",
        /// A sensor or switch with a thread.
        Sensor = "sensor",
        /// A wheel bolt or nut.
        Wheel = "wheel",
    }
}

impl Role {
    /// Whether the strength of the bolt is what limits the torque.
    #[must_use]
    pub fn is_limited_by_bolt(self) -> bool {
        matches!(self, Self::Bolt | Self::Nut | Self::Wheel)
    }
}

words! {
    /// May the fastener go back?
    ReuseRule, "a reuse rule" {
        /// Always renewed.
        Renew = "renew",
        /// May be used again.
        Reuse = "reuse",
        /// May be used again so many times.
        ReuseUpTo = "reuse-up-to",
        /// Renewed beyond a length.
        Measure = "measure",
        /// Used again if it passes an inspection.
        Inspect = "inspect",
    }
}

words! {
    /// How the fastener is kept from coming loose.
    Locking, "a way of locking" {
        /// Not at all, beyond its preload.
        None = "none",
        /// Liquid threadlocker.
        Threadlocker = "threadlocker",
        /// A dry patch of threadlocker applied by the maker.
        ThreadlockingPatch = "threadlocking-patch",
        /// Sealant on the thread, which also locks.
        ThreadSealant = "thread-sealant",
        /// Metal staked into a groove.
        Staked = "staked",
        /// An all-metal nut with a deformed thread.
        DeformedThreadNut = "deformed-thread-nut",
        /// A nut with a ring of polymer.
        PolymerRingNut = "polymer-ring-nut",
        /// A tab washer.
        TabWasher = "tab-washer",
        /// A split pin.
        SplitPin = "split-pin",
        /// Lock wire.
        LockWire = "lock-wire",
        /// A spring washer.
        SpringWasher = "spring-washer",
        /// A pair of wedge-locking washers.
        WedgeWasher = "wedge-washer",
    }
}

words! {
    /// How the order of tightening is made from the drawn positions.
    Pattern, "an order pattern" {
        /// Opposite corners.
        Diagonal = "diagonal",
        /// Across a bolt circle.
        Star = "star",
        /// From the centre outwards.
        SpiralOut = "spiral-out",
        /// Once round the edge.
        Round = "round",
        /// From the middle of a row outwards.
        LineOut = "line-out",
    }
}
