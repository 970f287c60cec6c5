//! The kinds of test, and the few named choices that belong to the mixing test.

use serde::{Deserialize, Serialize};

macro_rules! words {
    ($(#[doc = $doc:literal])+ $name:ident { $($(#[doc = $vdoc:literal])+ $variant:ident => $word:literal,)+ }) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name {
            $($(#[doc = $vdoc])+ #[serde(rename = $word)] $variant,)+
        }

        impl $name {
            /// Every choice, in order.
            pub const ALL: &'static [$name] = &[$($name::$variant,)+];

            /// Returns the word used in tables and files.
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)+ }
            }

            /// Returns the choice that `text` names, if any; case does not matter.
            pub fn parse(text: &str) -> Option<$name> {
                let bare = text.trim();
                Self::ALL.iter().copied().find(|choice| choice.word().eq_ignore_ascii_case(bare))
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    };
}

pub(super) use words;

words! {
    /// A kind of test: which method reads the run.
    Test {
        /// Mixing curve of a recording dough mixer (ISO 5530-1).
        Mixing => "mixing",
        /// Uniaxial extension of rested dough pieces (ISO 5530-2).
        Extension => "extension",
        /// Graded membrane-stretch ("window") observation.
        Membrane => "membrane",
        /// Mixing curve of a pin mixer (AACC 54-40).
        PinMixing => "pin-mixing",
        /// Mixing and heating curve (ISO 17718).
        Heating => "heating",
        /// Extension of dough strips with a hook.
        Strip => "strip",
        /// Bubble inflation of dough discs (ISO 27971).
        Inflation => "inflation",
        /// Process log of a mixer or jet: power, torque, pressure, flow.
        MixerLog => "mixer-log",
        /// Water uptake of bran or kernels.
        Uptake => "uptake",
        /// Loaf volume and other scalar records of bread and dough.
        Loaf => "loaf",
        /// Compression of crumb (AACC 74-09).
        Firmness => "firmness",
    }
}

words! {
    /// Why a run was made; decides which limits apply.
    Purpose {
        /// Looking for the right water volume.
        Titration => "titration",
        /// The run whose numbers are reported; its maximum must lie in 480–520 FU.
        Final => "final",
        /// A planned series (for example over hydrations); not judged by its level.
        Study => "study",
    }
}

words! {
    /// Dosing procedure of the mixing test; results of the two are not interchangeable.
    Procedure {
        /// Constant flour mass: 300 g or 50 g at 14 % moisture.
        ConstantFlour => "constant-flour",
        /// Constant dough mass: 480 g or 80 g.
        ConstantDough => "constant-dough",
    }
}

words! {
    /// Bowl of the recording dough mixer; FU of two bowls are different torques.
    Bowl {
        /// Bowl for 300 g of flour at 14 % moisture.
        G300 => "300",
        /// Bowl for 50 g of flour at 14 % moisture.
        G50 => "50",
    }
}

impl Bowl {
    /// Returns the nominal flour mass at 14 % moisture, in g.
    pub fn flour_g(self) -> f64 {
        match self {
            Bowl::G300 => 300.0,
            Bowl::G50 => 50.0,
        }
    }
}
