//! A rubric: the criteria a session's work is marked by, and what may be changed once marks exist.

use std::collections::{HashMap, HashSet};

use super::{
    from_record::{HoleTolerance, Source},
    points::Points,
};
use crate::domain::{
    field_errors::FieldErrors,
    ids::{CriterionId, RubricId, SiteId},
};

/// A rubric has at most so many criteria: more do not fit a page, and nobody marks by more.
pub const MOST_CRITERIA: usize = 20;

/// One thing that is marked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Criterion {
    /// Its id.
    pub id: CriterionId,
    /// What it is called.
    pub name: String,
    /// What the marker looks for.
    pub description: String,
    /// The most points it can be given.
    pub max: Points,
    /// What of the record it is judged by; `None` is by the marker's eye.
    pub source: Option<Source>,
    /// How far a hole may lie from its target, for a criterion judged by the hole.
    pub hole_within: HoleTolerance,
    /// What numbers of points mean, the most first.
    pub levels: Vec<Level>,
}

/// What a number of points means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Level {
    /// From so many points on.
    pub points: Points,
    /// In words.
    pub words: String,
}

/// A criterion has at most so many levels.
pub const MOST_LEVELS: usize = 8;
/// The longest words of a level, in characters.
pub const LONGEST_LEVEL: usize = 400;

impl Level {
    /// Reads levels as people type them, one a line: `4: sharp, no light anywhere`. They come back
    /// with the most points first.
    ///
    /// # Errors
    /// The first line that is none, in words.
    pub fn read_lines(typed: &str, max: Points) -> Result<Vec<Self>, String> {
        let mut levels: Vec<Self> = Vec::new();
        for line in typed.lines().map(str::trim).filter(|line| !line.is_empty()) {
            let (points, words) = line
                .split_once(':')
                .ok_or_else(|| format!("“{line}”: begin with the points and a colon, for example 4: …"))?;
            let points =
                Points::parse(points, Points::ZERO, max).map_err(|error| format!("“{line}”: the points {error}"))?;
            let words = words.trim().to_owned();
            if words.is_empty() || words.chars().count() > LONGEST_LEVEL {
                return Err(format!("“{line}”: say in 1 to {LONGEST_LEVEL} characters what these points mean"));
            }
            if levels.iter().any(|level| level.points == points) {
                return Err(format!("“{line}”: there is a level of {points} points already"));
            }
            levels.push(Self { points, words });
        }
        if levels.len() > MOST_LEVELS {
            return Err(format!("a criterion has at most {MOST_LEVELS} levels; these are {}", levels.len()));
        }
        levels.sort_by_key(|level| std::cmp::Reverse(level.points));
        Ok(levels)
    }

    /// Levels as they are typed.
    pub fn lines(levels: &[Self]) -> String {
        levels.iter().map(|level| format!("{}: {}", level.points, level.words)).collect::<Vec<_>>().join("\n")
    }

    /// The level that so many points reach: the highest not above them.
    pub fn reached(levels: &[Self], points: Points) -> Option<&Self> {
        levels.iter().filter(|level| level.points <= points).max_by_key(|level| level.points)
    }
}

/// A rubric, its criteria in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rubric {
    /// Its id.
    pub id: RubricId,
    /// Whose it is.
    pub site: SiteId,
    /// What it is called.
    pub name: String,
    /// Its criteria, in order.
    pub criteria: Vec<Criterion>,
    /// Counts edits of the whole: name, criteria, order.
    pub version: i64,
}

impl Rubric {
    /// The most points there are.
    pub fn out_of(&self) -> Points {
        self.criteria.iter().map(|criterion| criterion.max).sum()
    }
}

/// One criterion of the starting set.
#[derive(Clone, Copy, Debug)]
pub struct Start {
    /// What it is called.
    pub name: &'static str,
    /// What the marker looks for.
    pub description: &'static str,
    /// The most points.
    pub max: Points,
    /// What of the record it is judged by.
    pub source: Option<Source>,
    /// Levels: points and what they mean.
    pub levels: &'static [(i64, &'static str)],
}

const fn start(
    name: &'static str,
    milli: i64,
    source: Option<Source>,
    description: &'static str,
    levels: &'static [(i64, &'static str)],
) -> Start {
    Start { name, description, max: Points::from_milli(milli), source, levels }
}

/// A starting set for this lab, in our own words.
pub const STARTING_SET: [Start; 11] = [
    start(
        "Own figures",
        3_000,
        Some(Source::OwnFigures),
        "The values asked for were worked out before the server showed its own.",
        &[],
    ),
    start(
        "Hole",
        2_000,
        Some(Source::Hole),
        "As wide as the camera asks for, and round when held against the light.",
        &[(2_000, "within tolerance of its target, and round"), (1_000, "one of the two")],
    ),
    start(
        "Exposures",
        3_000,
        Some(Source::Exposure),
        "What the first sheet taught was used for the next.",
        &[(3_000, "one within half a stop, or each nearer than the last"), (1_500, "judged, but not nearer")],
    ),
    start(
        "Sheets written down",
        1_000,
        Some(Source::SheetsEntered),
        "Every sheet has its light, its time and how it came out, the spoiled ones too.",
        &[],
    ),
    start(
        "Trays written down",
        1_000,
        Some(Source::ChemistryEntered),
        "Every sheet and print was entered at the trays, so that the baths are known.",
        &[],
    ),
    start(
        "Negative",
        3_000,
        None,
        "A paper negative from a light-tight camera, developed and fixed fully, edges clean.",
        &[
            (3_000, "detail in light and dark, as sharp as this hole allows"),
            (2_000, "detail in most of it"),
            (1_000, "a picture can be seen"),
            (0, "no picture"),
        ],
    ),
    start(
        "Contact print",
        2_000,
        None,
        "Reached by way of a test strip, in even contact, washed.",
        &[(2_000, "black, white and the greys between"), (1_000, "printed, but flat, pale or uneven"), (0, "no print")],
    ),
    start(
        "Safe hands",
        1_000,
        None,
        "Needle and brass handled with care, goggles and gloves at the trays, spent fixer in its container, floor dry.",
        &[(1_000, "without being told"), (500, "after being told once"), (0, "had to be stopped")],
    ),
    start("Clean-up", 1_000, Some(Source::CleanUp), "Left the place as others would wish to find it.", &[]),
    start(
        "Report",
        2_000,
        None,
        "Says what was expected, what happened and why they differ; numbers carry units and how well they are known.",
        &[(2_000, "all of it, with reasons"), (1_000, "what happened, without why"), (0, "nothing of it")],
    ),
    start("Report on time", 1_000, Some(Source::ReportOnTime), "Handed in by the time that was set.", &[]),
];

impl Start {
    /// The criterion it becomes.
    pub fn criterion(&self, id: CriterionId) -> Criterion {
        Criterion {
            id,
            name: self.name.to_owned(),
            description: self.description.to_owned(),
            max: self.max,
            source: self.source,
            hole_within: HoleTolerance::default(),
            levels: self
                .levels
                .iter()
                .map(|(milli, words)| Level { points: Points::from_milli(*milli), words: (*words).to_owned() })
                .collect(),
        }
    }
}

/// What was already marked under a rubric.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Given {
    /// For each criterion with a mark or a comment: the most points given (zero when only comments).
    pub highest: HashMap<CriterionId, Points>,
    /// How many students were given their marks back under it.
    pub given_back: i64,
}

/// One row of a rubric being edited.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CriterionRow {
    /// Its number on the page, from one; messages are put beside `name-1`, `max-1`, `place-1`, `remove-1`.
    pub row: usize,
    /// The criterion it edits or adds.
    pub id: CriterionId,
    /// Whether it adds one.
    pub added: bool,
    /// What it is called.
    pub name: String,
    /// What the marker looks for.
    pub description: String,
    /// The most points.
    pub max: Points,
    /// What of the record it is judged by.
    pub source: Option<Source>,
    /// How far a hole may lie from its target.
    pub hole_within: HoleTolerance,
    /// What numbers of points mean.
    pub levels: Vec<Level>,
    /// Where it is wanted: 1 is first. `None` is last.
    pub place: Option<i64>,
    /// Take it out.
    pub remove: bool,
}

impl CriterionRow {
    /// The criterion as this row wants it.
    pub fn criterion(&self) -> Criterion {
        Criterion {
            id: self.id,
            name: self.name.clone(),
            description: self.description.clone(),
            max: self.max,
            source: self.source,
            hole_within: self.hole_within,
            levels: self.levels.clone(),
        }
    }

    /// The row of a criterion left as it is.
    pub fn unchanged(criterion: &Criterion, row: usize) -> Self {
        Self {
            row,
            id: criterion.id,
            added: false,
            name: criterion.name.clone(),
            description: criterion.description.clone(),
            max: criterion.max,
            source: criterion.source,
            hole_within: criterion.hole_within,
            levels: criterion.levels.clone(),
            place: i64::try_from(row).ok(),
            remove: false,
        }
    }
}

/// A rubric as somebody wants it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RubricEdit {
    /// What it is to be called.
    pub name: String,
    /// Its rows, in the order of the page.
    pub rows: Vec<CriterionRow>,
    /// The version that was on the page.
    pub version: i64,
}

impl RubricEdit {
    /// The rubric after the edit.
    ///
    /// # Errors
    /// Beside each row: a name that is there twice; points below a mark already given; a marked
    /// criterion taken out; any change of what counts once marks were given back.
    pub fn apply(mut self, current: &Rubric, given: &Given) -> Result<Rubric, FieldErrors> {
        // a criterion that was not sent was not asked to be taken out
        let unsent = current.criteria.iter().filter(|criterion| self.rows.iter().all(|row| row.id != criterion.id));
        let unsent: Vec<CriterionRow> =
            unsent.map(|criterion| CriterionRow::unchanged(criterion, usize::MAX)).collect();
        self.rows.extend(unsent);
        let mut errors = FieldErrors::none();
        let mut names = HashSet::new();
        for row in &self.rows {
            let before = current.criteria.iter().find(|criterion| criterion.id == row.id);
            if before.is_none() && !row.added {
                errors.add("", "a criterion on this page is not one of this rubric");
            }
            if !row.remove && !names.insert(row.name.to_lowercase()) {
                errors.add(format!("name-{}", row.row), "another criterion of this rubric has this name");
            }
            if let Some((field, message)) = refusal(row, before, given) {
                errors.add(field, message);
            }
        }
        let kept: Vec<CriterionRow> = in_places(self.rows.into_iter().filter(|row| !row.remove).collect());
        if kept.is_empty() {
            errors.add("", "a rubric needs at least one criterion");
        }
        if kept.len() > MOST_CRITERIA {
            errors.add("", format!("a rubric has at most {MOST_CRITERIA} criteria; this would have {}", kept.len()));
        }
        if !errors.is_empty() {
            return Err(errors);
        }
        let criteria = kept.into_iter().map(|row| row.criterion()).collect();
        Ok(Rubric { name: self.name, criteria, version: self.version, ..current.clone() })
    }
}

/// Why a row may not be saved as it is, given what was already marked.
fn refusal(row: &CriterionRow, before: Option<&Criterion>, given: &Given) -> Option<(String, String)> {
    let highest = given.highest.get(&row.id);
    if row.remove {
        let reason = if highest.is_some() {
            "it has marks or comments already; clear those first, or begin a new rubric from this one".to_owned()
        } else {
            given_back_reason(given)?
        };
        return before.map(|_| (format!("remove-{}", row.row), reason));
    }
    if before.is_some_and(|before| before.max == row.max) {
        return None;
    }
    if let Some(highest) = highest.filter(|highest| row.max < **highest) {
        let reason = format!("a mark of {highest} was already given here; the points cannot be fewer");
        return Some((format!("max-{}", row.row), reason));
    }
    let field = if before.is_some() { "max" } else { "name" };
    given_back_reason(given).map(|reason| (format!("{field}-{}", row.row), reason))
}

fn given_back_reason(given: &Given) -> Option<String> {
    (given.given_back > 0).then(|| {
        let students = if given.given_back == 1 { "1 student has" } else { "several students have" };
        format!(
            "{students} marks given back under this rubric, and what counts would change; take those back first, or \
             begin a new rubric from this one"
        )
    })
}

/// Rows in the places asked for. Of two that want one place, the one that was moved up comes
/// first and the one that was moved down last, so that “1” is first and the last number is last.
fn in_places(rows: Vec<CriterionRow>) -> Vec<CriterionRow> {
    let mut placed: Vec<(i64, i64, CriterionRow)> = rows
        .into_iter()
        .map(|row| {
            let stood = i64::try_from(row.row).unwrap_or(i64::MAX);
            let place = row.place.unwrap_or(i64::MAX);
            (place, (place - stood).signum(), row)
        })
        .collect();
    placed.sort_by_key(|(place, moved, row)| (*place, *moved, row.row));
    placed.into_iter().map(|(_, _, row)| row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{clock::World, domain::instant::Instant};

    fn rubric(world: &World) -> Rubric {
        let criteria = [("Negative", 4_000), ("Print", 3_000), ("Report", 3_000)]
            .map(|(name, milli)| Criterion {
                id: world.mint(),
                name: name.to_owned(),
                description: String::new(),
                max: Points::from_milli(milli),
                source: None,
                hole_within: HoleTolerance::default(),
                levels: Vec::new(),
            })
            .to_vec();
        Rubric { id: world.mint(), site: world.mint(), name: "First evening".to_owned(), criteria, version: 1 }
    }

    fn world() -> World {
        World::fixed(Instant::from_micros(1_774_029_600_000_000).expect("in range"))
    }

    fn edit(rubric: &Rubric) -> RubricEdit {
        let rows = rubric.criteria.iter().zip(1..).map(|(criterion, row)| CriterionRow::unchanged(criterion, row));
        RubricEdit { name: rubric.name.clone(), rows: rows.collect(), version: rubric.version }
    }

    fn names(rubric: &Rubric) -> Vec<&str> {
        rubric.criteria.iter().map(|criterion| criterion.name.as_str()).collect()
    }

    #[test]
    fn criteria_are_moved_added_and_taken_out_in_one_edit() {
        let world = world();
        let before = rubric(&world);
        let mut wanted = edit(&before);
        wanted.rows[2].place = Some(1);
        wanted.rows[1].remove = true;
        wanted.rows.push(CriterionRow {
            row: 4,
            id: world.mint(),
            added: true,
            name: "Log".to_owned(),
            description: String::new(),
            max: Points::from_milli(2_500),
            source: None,
            hole_within: HoleTolerance::default(),
            levels: Vec::new(),
            place: None,
            remove: false,
        });
        let after = wanted.apply(&before, &Given::default()).expect("nothing is marked yet");
        assert_eq!(names(&after), ["Report", "Negative", "Log"]);
        assert_eq!(after.out_of(), Points::from_milli(9_500));
    }

    #[test]
    fn a_criterion_moved_down_to_the_last_place_is_last() {
        let before = rubric(&world());
        let mut wanted = edit(&before);
        wanted.rows[0].place = Some(3);
        let after = wanted.apply(&before, &Given::default()).expect("a new order");
        assert_eq!(names(&after), ["Print", "Report", "Negative"]);
    }

    #[test]
    fn points_may_not_fall_below_a_mark_already_given() {
        let before = rubric(&world());
        let given =
            Given { highest: HashMap::from([(before.criteria[0].id, Points::from_milli(3_500))]), given_back: 0 };
        let mut wanted = edit(&before);
        wanted.rows[0].max = Points::from_milli(3_000);
        let errors = wanted.clone().apply(&before, &given).expect_err("3.5 was given");
        assert_eq!(errors.of("max-1"), Some("a mark of 3.5 was already given here; the points cannot be fewer"));
        wanted.rows[0].max = Points::from_milli(3_500);
        assert!(wanted.apply(&before, &given).is_ok(), "as many as were given is enough");
    }

    #[test]
    fn a_marked_criterion_is_not_taken_out() {
        let before = rubric(&world());
        let given = Given { highest: HashMap::from([(before.criteria[1].id, Points::ZERO)]), given_back: 0 };
        let mut wanted = edit(&before);
        wanted.rows[1].remove = true;
        assert!(wanted.apply(&before, &given).expect_err("it has a mark").of("remove-2").is_some());
    }

    #[test]
    fn after_giving_back_words_may_change_but_not_what_counts() {
        let world = world();
        let before = rubric(&world);
        let given = Given { highest: HashMap::new(), given_back: 2 };
        let mut words = edit(&before);
        words.rows[0].name = "Paper negative".to_owned();
        assert!(words.apply(&before, &given).is_ok());
        let mut counts = edit(&before);
        counts.rows[0].max = Points::from_milli(9_000);
        counts.rows[1].remove = true;
        let errors = counts.apply(&before, &given).expect_err("students hold their marks");
        assert!(errors.of("max-1").is_some() && errors.of("remove-2").is_some());
    }

    #[test]
    fn a_criterion_that_was_not_sent_stays() {
        let before = rubric(&world());
        let mut wanted = edit(&before);
        wanted.rows.remove(1);
        let after = wanted.apply(&before, &Given::default()).expect("nothing was taken out");
        assert_eq!(names(&after), ["Negative", "Report", "Print"]);
    }

    #[test]
    fn two_criteria_do_not_share_a_name() {
        let before = rubric(&world());
        let mut wanted = edit(&before);
        wanted.rows[1].name = "negative".to_owned();
        assert!(wanted.apply(&before, &Given::default()).expect_err("twice").of("name-2").is_some());
    }

    #[test]
    fn the_starting_set_has_names_of_its_own_and_twenty_points() {
        let distinct: HashSet<&str> = STARTING_SET.iter().map(|start| start.name).collect();
        assert_eq!(distinct.len(), STARTING_SET.len());
        assert_eq!(STARTING_SET.iter().map(|start| start.max).sum::<Points>(), Points::from_milli(20_000));
        for start in STARTING_SET {
            let levels = start.criterion(world().mint()).levels;
            assert_eq!(Level::read_lines(&Level::lines(&levels), start.max), Ok(levels), "{}", start.name);
        }
    }

    #[test]
    fn levels_are_typed_one_a_line_and_the_highest_not_above_the_points_is_reached() {
        let four = Points::from_milli(4_000);
        let levels = Level::read_lines(" 2 : soft\n\n4: sharp: all of it\n0: no picture", four).expect("three levels");
        assert_eq!(Level::lines(&levels), "4: sharp: all of it\n2: soft\n0: no picture");
        let reached = |milli| Level::reached(&levels, Points::from_milli(milli)).map(|level| level.words.as_str());
        assert_eq!(reached(3_500), Some("soft"));
        assert_eq!(reached(4_000), Some("sharp: all of it"));
        assert_eq!(reached(1_750), Some("no picture"));
        for wrong in ["sharp", "5: above the most", "2: a\n2: b", "3:"] {
            assert!(Level::read_lines(wrong, four).is_err(), "{wrong}");
        }
    }
}
