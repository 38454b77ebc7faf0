//! A rubric: the criteria a session's work is marked by, and what may be changed once marks exist.

use std::collections::{HashMap, HashSet};

use super::{
    field_errors::FieldErrors,
    ids::{CriterionId, RubricId, SiteId},
    points::Points,
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

/// A starting set for this lab, in our own words: name, what the marker looks for, points.
pub const STARTING_SET: [(&str, &str, Points); 6] = [
    (
        "Camera light-tight and worked out",
        "No stray light reached the sheet. The hole was worked out from the camera’s own dimensions, made, and \
         measured in more than one direction; the f-number follows from what was measured.",
        Points::from_milli(4_000),
    ),
    (
        "Log of exposures",
        "Every sheet is written down: the light, the time, how it came out in stops, and what was changed for the \
         next one.",
        Points::from_milli(4_000),
    ),
    (
        "Negative",
        "One paper negative with detail in its light and its dark parts, as sharp as this hole allows, developed \
         and fixed fully, edges clean.",
        Points::from_milli(4_000),
    ),
    (
        "Contact print",
        "Reached by way of a test strip; in even contact; black, white and the greys between; washed.",
        Points::from_milli(3_000),
    ),
    (
        "Safety and clean-up",
        "Needle and brass handled with care, goggles and gloves at the trays, spent fixer in its container, floor \
         dry, the place left as others would wish to find it.",
        Points::from_milli(2_000),
    ),
    (
        "Report",
        "Says what was expected, what happened and why they differ; numbers carry units and how well they are known.",
        Points::from_milli(3_000),
    ),
];

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
    /// Where it is wanted: 1 is first. `None` is last.
    pub place: Option<i64>,
    /// Take it out.
    pub remove: bool,
}

impl CriterionRow {
    /// The row of a criterion left as it is.
    pub fn unchanged(criterion: &Criterion, row: usize) -> Self {
        Self {
            row,
            id: criterion.id,
            added: false,
            name: criterion.name.clone(),
            description: criterion.description.clone(),
            max: criterion.max,
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
        let criteria = kept
            .into_iter()
            .map(|row| Criterion { id: row.id, name: row.name, description: row.description, max: row.max })
            .collect();
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
        let distinct: HashSet<&str> = STARTING_SET.iter().map(|(name, ..)| *name).collect();
        assert_eq!(distinct.len(), STARTING_SET.len());
        assert_eq!(STARTING_SET.iter().map(|(.., points)| *points).sum::<Points>(), Points::from_milli(20_000));
    }
}
