//! What a negative looks like, what usually causes it, and what to try.
//!
//! Common darkroom practice, no source.

use super::verdict::{Fault, Verdict};

/// A sign on a negative.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sign {
    /// What one sees.
    pub looks: &'static str,
    /// What usually causes it.
    pub causes: &'static str,
    /// What to try next.
    pub try_next: &'static str,
}

const ALL_WHITE: Sign = Sign {
    looks: "white all over",
    causes: "no light reached the paper: shutter shut, hole blocked, paper the wrong way round, far too short; \
             or the developer is spent, or the sheet went into the fixer first",
    try_next: "look through the hole at a bright wall (never at the sun), check the order of the trays, then give \
               four times the light",
};
const PALE: Sign = Sign {
    looks: "pale and thin",
    causes: "too little light, or pulled from the developer early",
    try_next: "more light by the stops it needed: half a stop is 1.4 times, one stop twice, two stops four times the light. \
               On the clock reciprocity may ask for more than that. Leave it in the developer its full time",
};
const ALL_BLACK: Sign = Sign {
    looks: "black all over",
    causes: "far too much light, the lid came off, or the room light was on",
    try_next: "a quarter of the light; then look for leaks with a lamp inside the box in the dark",
};
const DARK: Sign = Sign {
    looks: "too dark, but the picture is there",
    causes: "too much light",
    try_next: "less light by the stops it had too much: half a stop is 0.7 of the light, one stop half, two stops a quarter; \
               where reciprocity counts the clock goes down by more",
};
const FOG: Sign = Sign {
    looks: "grey all over, the covered borders too",
    causes: "fog: safelight too near or too long, old paper, far too long in the developer",
    try_next: "lay a coin on a fresh piece under the safelight for some minutes and develop it: its shape must not show",
};
const LEAK: Sign = Sign {
    looks: "a black streak, edge or spot",
    causes: "light comes in at the lid, a corner or under the tape",
    try_next: "tape it, then leave the loaded camera in the sun with the shutter shut: the sheet must stay white",
};
const DOUBLE: Sign = Sign {
    looks: "a double or smeared picture",
    causes: "the camera moved, was bumped when the shutter opened, or there are two holes",
    try_next: "weigh it down or prop it; hold a hand before the hole while you open and close",
};
const SOFT: Sign = Sign {
    looks: "soft all over",
    causes: "the hole is too large, ragged, or far too small",
    try_next: "measure it again, rub off the burr, or make a new one",
};
const GONE: Sign = Sign {
    looks: "people or leaves are missing",
    causes: "they moved during the exposure",
    try_next: "nothing is wrong: only what keeps still is drawn",
};
const CORNERS: Sign = Sign {
    looks: "dark in the middle, pale corners",
    causes: "the corners are farther from the hole and see it aslant; a thick plate makes it worse",
    try_next: "a longer box, a thinner plate, or paper bent along a curve",
};
const PART_CIRCLE: Sign = Sign {
    looks: "part of a circle",
    causes: "the hole sits off the middle, or its mount cuts into the view",
    try_next: "move the hole to the middle, cut the mount wider",
};
const MOTTLE: Sign = Sign {
    looks: "blotched and uneven",
    causes: "pulled early, not rocked, or bubbles underneath",
    try_next: "slip it in face down, turn it, rock the tray, give the full time",
};
const FINGERS: Sign = Sign {
    looks: "finger marks",
    causes: "fixer or developer on the fingers",
    try_next: "rinse and dry your hands before you load; keep each pair of tongs to its tray",
};
const STAIN: Sign = Sign {
    looks: "yellow or brown stains",
    causes: "tired fixer or stop bath, or a short wash",
    try_next: "tell your instructor: the bath may need changing; wash the full time",
};
const FLARE: Sign = Sign {
    looks: "a bright spot or a ring on the print",
    causes: "the sun shone straight on the hole",
    try_next: "turn the camera or shade the hole",
};
const REVERSED: Sign = Sign {
    looks: "the contact print is soft, or left and right are exchanged",
    causes: "the two emulsions did not lie face to face",
    try_next: "emulsion to emulsion, with glass on top",
};

impl Sign {
    /// What stands for it in an address: `white-all-over`.
    pub fn key(&self) -> String {
        let words: Vec<String> = self
            .looks
            .split(|c: char| !c.is_ascii_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_lowercase)
            .collect();
        words.join("-")
    }

    /// The sign of a [`Sign::key`].
    pub fn from_key(key: &str) -> Option<Self> {
        SIGNS.into_iter().find(|sign| sign.key() == key)
    }
}

/// Every sign, in the order a table shows them.
pub const SIGNS: [Sign; 16] = [
    ALL_WHITE,
    PALE,
    DARK,
    ALL_BLACK,
    FOG,
    LEAK,
    DOUBLE,
    SOFT,
    GONE,
    CORNERS,
    PART_CIRCLE,
    MOTTLE,
    FINGERS,
    STAIN,
    FLARE,
    REVERSED,
];

/// The signs that go with what somebody said of a sheet: what they picked, what spoiled it, how it was
/// exposed. “Something else” spoiled it: only what was picked can say what.
pub fn signs_of(verdict: Verdict, fault: Option<Fault>, picked: Option<Sign>) -> Vec<Sign> {
    let spoiled = match fault {
        Some(Fault::Fog) => Some(FOG),
        Some(Fault::Leak) => Some(LEAK),
        Some(Fault::Movement) => Some(DOUBLE),
        Some(Fault::Other) | None => None,
    };
    let exposed = match verdict {
        Verdict::AllWhite => Some(ALL_WHITE),
        Verdict::MuchTooPale | Verdict::TooPale | Verdict::ALittlePale => Some(PALE),
        Verdict::ALittleDark | Verdict::TooDark | Verdict::MuchTooDark => Some(DARK),
        Verdict::AllBlack => Some(ALL_BLACK),
        Verdict::Right | Verdict::StopsGiven => None,
    };
    let mut signs: Vec<Sign> = Vec::new();
    for sign in picked.into_iter().chain(spoiled).chain(exposed) {
        if !signs.contains(&sign) {
            signs.push(sign);
        }
    }
    signs
}

/// What somebody who picked a sign would say of the sheet: how it looks, and what spoiled it. The nearest
/// verdict where the sign names one; else they say it themselves.
pub fn judged_by(sign: Sign) -> (Option<Verdict>, Option<Fault>) {
    match sign {
        ALL_WHITE => (Some(Verdict::AllWhite), None),
        PALE => (Some(Verdict::TooPale), None),
        DARK => (Some(Verdict::TooDark), None),
        ALL_BLACK => (Some(Verdict::AllBlack), None),
        FOG => (None, Some(Fault::Fog)),
        LEAK => (None, Some(Fault::Leak)),
        DOUBLE => (None, Some(Fault::Movement)),
        MOTTLE => (None, Some(Fault::Other)),
        _ => (None, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sign_is_found_by_its_address() {
        for sign in SIGNS {
            assert_eq!(Sign::from_key(&sign.key()), Some(sign), "{}", sign.key());
        }
        assert_eq!(Sign::from_key("gremlins"), None);
    }

    #[test]
    fn what_spoiled_a_sheet_is_named_before_its_exposure() {
        let signs = signs_of(Verdict::TooDark, Some(Fault::Leak), None);
        assert_eq!(signs, [LEAK, DARK]);
        assert!(signs_of(Verdict::Right, None, None).is_empty());
    }

    #[test]
    fn something_else_is_what_was_picked_and_nothing_is_named_twice() {
        assert_eq!(signs_of(Verdict::Right, Some(Fault::Other), Some(FINGERS)), [FINGERS]);
        assert!(signs_of(Verdict::Right, Some(Fault::Other), None).is_empty());
        assert_eq!(signs_of(Verdict::TooPale, Some(Fault::Leak), Some(LEAK)), [LEAK, PALE]);
        assert_eq!(judged_by(LEAK), (None, Some(Fault::Leak)));
    }
}
