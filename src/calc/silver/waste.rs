//! Waste: blending, recovery, limits and categories.
//!
//! The rules are one country's federal example (40 CFR as cited, 2015 text and later copies), never
//! advice: verify with your state, your sewer authority and your safety office. An estimate can
//! warn; only a laboratory result can say that a limit is not reached.

use crate::calc::quantity::{GramsPerLitre, Litres, MilligramsPerLitre};
use crate::calc::working::{Working, figures, plain, scaled};

/// Several solutions poured together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blend {
    /// Volume.
    pub volume_l: f64,
    /// Silver in it, in grams.
    pub silver_g: f64,
}

impl Blend {
    /// Concentration of silver; 0 of nothing.
    pub fn g_per_l(self) -> f64 {
        if self.volume_l == 0.0 { 0.0 } else { self.silver_g / self.volume_l }
    }
}

/// Volume and silver of solutions poured together: both add up.
pub fn waste_blend(parts: impl IntoIterator<Item = (Litres, GramsPerLitre)>) -> Blend {
    parts.into_iter().fold(Blend { volume_l: 0.0, silver_g: 0.0 }, |sum, (volume, silver)| Blend {
        volume_l: sum.volume_l + volume.as_l(),
        silver_g: sum.silver_g + volume.as_l() * silver.as_g_per_l(),
    })
}

/// Per cent of the silver that a recovery step keeps back: `100 (in - out) / in`. Negative when more
/// comes out than went in, `None` when none went in.
pub fn percent_recovered(influent: MilligramsPerLitre, effluent: MilligramsPerLitre) -> Option<f64> {
    let (before, after) = (influent.as_mg_per_l(), effluent.as_mg_per_l());
    (before > 0.0).then(|| 100.0 * (before - after) / before)
}

/// What a concentration rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// A result from a laboratory.
    Laboratory,
    /// An estimate: by area, by silver estimating paper.
    Estimate,
}

/// Whether a toxicity limit is reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AgainstLimit {
    /// At or above the limit.
    AtOrAbove,
    /// Below it, by a laboratory result.
    Below,
    /// An estimate below the limit shows nothing.
    NotShown,
}

/// A concentration against a toxicity limit: "equal to or greater than" counts (40 CFR 261.24(a),
/// Table 1: silver 5.0 mg/L). An estimate never clears a waste.
pub fn against_toxicity_limit(silver: MilligramsPerLitre, limit: MilligramsPerLitre, basis: Basis) -> AgainstLimit {
    match (silver >= limit, basis) {
        (true, _) => AgainstLimit::AtOrAbove,
        (false, Basis::Laboratory) => AgainstLimit::Below,
        (false, Basis::Estimate) => AgainstLimit::NotShown,
    }
}

/// Generator category by what a whole site generates in a calendar month (40 CFR 262.13, Table 1).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GeneratorCategory {
    /// Very small: at most 100 kg and at most 1 kg acute.
    VerySmall,
    /// Small: more than 100 and less than 1,000 kg, at most 1 kg acute.
    Small,
    /// Large: 1,000 kg or more, or more than 1 kg acute.
    Large,
}

impl GeneratorCategory {
    /// The abbreviation that the rule uses.
    pub const fn label(self) -> &'static str {
        match self {
            Self::VerySmall => "VSQG",
            Self::Small => "SQG",
            Self::Large => "LQG",
        }
    }
}

/// The category for kilograms of non-acute and of acute hazardous waste in a month.
pub fn generator_category(nonacute_kg: f64, acute_kg: f64) -> GeneratorCategory {
    if acute_kg > 1.0 || nonacute_kg >= 1000.0 {
        GeneratorCategory::Large
    } else if nonacute_kg > 100.0 {
        GeneratorCategory::Small
    } else {
        GeneratorCategory::VerySmall
    }
}

/// Per cent of what was there at the start of the year that was recycled during it. 40 CFR
/// 261.1(c)(8) asks for 75 % or more. `start_of_year` must be more than nothing.
pub fn turnover_percent(start_of_year: Litres, recycled: Litres) -> f64 {
    100.0 * recycled.as_l() / start_of_year.as_l()
}

/// The share below which a year's turnover counts as speculative accumulation.
pub const LEAST_TURNOVER_PERCENT: f64 = 75.0;

/// [`waste_blend`] with its working. Of many parts the first few are written out.
pub fn waste_blend_working(parts: &[(Litres, GramsPerLitre)]) -> Working {
    const WRITTEN_OUT: usize = 12;
    let blend = waste_blend(parts.iter().copied());
    let (litres, grams) = (scaled(blend.volume_l, 4), scaled(blend.silver_g, 4));
    let together = scaled(blend.g_per_l(), 3);
    let mut terms: Vec<_> = parts
        .iter()
        .take(WRITTEN_OUT)
        .map(|(volume, silver)| format!("{} L × {} g/L", plain(volume.as_l()), plain(silver.as_g_per_l())))
        .collect();
    if parts.len() > WRITTEN_OUT {
        terms.push(format!("{} more parts", parts.len() - WRITTEN_OUT));
    }
    Working::of(
        "poured together",
        format!("{litres} L with {grams} g of silver, {together} g/L"),
        format!(
            "Σ V c = {} = {grams} g; in Σ V = {litres} L: {grams} g / {litres} L = {together} g/L",
            terms.join(" + ")
        ),
        "mass balance: volumes and silver add up",
    )
}

/// [`percent_recovered`] with its working; `None` when none went in.
pub fn percent_recovered_working(influent: MilligramsPerLitre, effluent: MilligramsPerLitre) -> Option<Working> {
    let percent = figures(percent_recovered(influent, effluent)?, 4);
    let (before, after) = (plain(influent.as_mg_per_l()), plain(effluent.as_mg_per_l()));
    Some(Working::of(
        "silver recovered",
        format!("{percent} %"),
        format!("100 (Cin − Cout) / Cin = 100 × ({before} − {after}) / {before} = {percent} %"),
        "definition of the share recovered",
    ))
}

/// [`against_toxicity_limit`] with its working.
pub fn toxicity_limit_working(silver: MilligramsPerLitre, limit: MilligramsPerLitre, basis: Basis) -> Working {
    let (c, limit_said) = (plain(silver.as_mg_per_l()), plain(limit.as_mg_per_l()));
    let (value, formula) = match against_toxicity_limit(silver, limit, basis) {
        AgainstLimit::AtOrAbove => {
            ("at or above", format!("{c} mg/L ≥ {limit_said} mg/L: equal to or greater than counts"))
        }
        AgainstLimit::Below => ("below", format!("{c} mg/L < {limit_said} mg/L, by a laboratory result")),
        AgainstLimit::NotShown => (
            "not shown",
            format!("{c} mg/L < {limit_said} mg/L, but by an estimate: only a laboratory result can say below"),
        ),
    };
    Working::of(
        "against the toxicity limit",
        value,
        formula,
        "40 CFR 261.24(a), table 1, for silver 5.0 mg/L (a federal example, never advice: your own rules stand above it); the \
         limit is the one entered",
    )
}

/// [`turnover_percent`] with its working.
pub fn turnover_working(start_of_year: Litres, recycled: Litres) -> Working {
    let percent = figures(turnover_percent(start_of_year, recycled), 4);
    Working::of(
        "turnover of the year",
        format!("{percent} %"),
        format!(
            "100 × recycled / start of year = 100 × {} L / {} L = {percent} %; {LEAST_TURNOVER_PERCENT} % or more is asked for",
            plain(recycled.as_l()),
            plain(start_of_year.as_l())
        ),
        "40 CFR 261.1(c)(8) (a federal example, never advice: your own rules stand above it)",
    )
}

/// [`generator_category`] with its working.
pub fn generator_category_working(nonacute_kg: f64, acute_kg: f64) -> Working {
    let category = generator_category(nonacute_kg, acute_kg);
    let (waste, acute) = (plain(nonacute_kg), plain(acute_kg));
    let why = match category {
        GeneratorCategory::Large if acute_kg > 1.0 => format!("{acute} kg acute > 1 kg"),
        GeneratorCategory::Large => format!("{waste} kg ≥ 1000 kg"),
        GeneratorCategory::Small => format!("100 kg < {waste} kg < 1000 kg, and {acute} kg acute ≤ 1 kg"),
        GeneratorCategory::VerySmall => format!("{waste} kg ≤ 100 kg, and {acute} kg acute ≤ 1 kg"),
    };
    Working::of(
        "generator category",
        category.label(),
        format!("what the whole site generates in a calendar month: {why}: {}", category.label()),
        "40 CFR 262.13, table 1 (a federal example, never advice: your own rules stand above it)",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_estimate_can_warn_but_never_clears_a_waste() {
        let mg = |x| MilligramsPerLitre::new(x).unwrap();
        let against = |x, basis| against_toxicity_limit(mg(x), mg(5.0), basis);
        assert_eq!(against(600.0, Basis::Estimate), AgainstLimit::AtOrAbove);
        assert_eq!(against(0.0, Basis::Estimate), AgainstLimit::NotShown);
        assert_eq!(against(0.0, Basis::Laboratory), AgainstLimit::Below);
    }

    #[test]
    fn nothing_poured_together_has_no_concentration() {
        assert_eq!(waste_blend([]).g_per_l(), 0.0);
        let none = MilligramsPerLitre::new(0.0).unwrap();
        assert_eq!(percent_recovered(none, none), None);
    }
}
