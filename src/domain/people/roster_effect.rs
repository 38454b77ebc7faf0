//! What taking a roster would change: the lines of a file beside the students of a section.

use std::collections::HashMap;

use super::{roster::RosterLine, student::Student};

/// What taking a line would do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// A new student.
    Added,
    /// A student on the roster gets another name or address.
    Changed,
    /// A student who was struck off comes back, perhaps with another name or address.
    BackOn,
    /// Nothing.
    Unchanged,
}

impl Effect {
    /// The word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Added => "added",
            Self::Changed => "changed",
            Self::BackOn => "back on",
            Self::Unchanged => "unchanged",
        }
    }
}

/// One line with what it would do, and the student it is about, if there is one already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Planned {
    /// The line.
    pub line: RosterLine,
    /// What it would do.
    pub effect: Effect,
    /// The student as they are now.
    pub before: Option<Student>,
}

impl Planned {
    /// The student as they would be after it, if there is one already.
    pub fn after(&self) -> Option<Student> {
        self.before.clone().map(|before| Student {
            name: self.line.name.clone(),
            email: self.line.email.clone().unwrap_or(before.email),
            walk_in: false,
            left_at: None,
            ..before
        })
    }
}

/// Puts a roster beside a section's students (those struck off included): what would it change?
/// Students it does not name stay as they are.
pub fn compare(lines: Vec<RosterLine>, students: &[Student]) -> Vec<Planned> {
    let by_number: HashMap<&str, &Student> =
        students.iter().map(|student| (student.roster_number.as_str(), student)).collect();
    lines
        .into_iter()
        .map(|line| {
            let before = by_number.get(line.number.as_str()).map(|student| (*student).clone());
            let mut planned = Planned { line, effect: Effect::Added, before };
            if let (Some(before), Some(after)) = (&planned.before, planned.after()) {
                planned.effect = match () {
                    () if *before == after => Effect::Unchanged,
                    () if before.left_at.is_some() => Effect::BackOn,
                    () => Effect::Changed,
                };
            }
            planned
        })
        .collect()
}

/// The same beside the identifiers that are known: a line that only brings another one changes its
/// student too. `known` gives the user's and the class's, empty without one.
pub fn with_identifiers<'a>(planned: Vec<Planned>, known: impl Fn(&Student) -> (&'a str, &'a str)) -> Vec<Planned> {
    let changes = |given: &Option<String>, known: &str| given.as_deref().is_some_and(|given| given != known);
    planned
        .into_iter()
        .map(|mut planned| {
            if let (Some(before), Effect::Unchanged) = (&planned.before, planned.effect) {
                let (user, class) = known(before);
                let line = &planned.line;
                if changes(&line.user_identifier, user) || changes(&line.class_identifier, class) {
                    planned.effect = Effect::Changed;
                }
            }
            planned
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{instant::Instant, people::roster::read},
    };

    fn lines(text: &str) -> Vec<RosterLine> {
        read(text, |cell| cell).expect("a roster").lines
    }

    #[test]
    fn a_roster_is_put_beside_the_students_of_the_section() {
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let world = World::fixed(at);
        let section = world.mint();
        let student = |number: &str, name: &str, left_at| Student {
            id: world.mint(),
            section,
            roster_number: number.to_owned(),
            name: name.to_owned(),
            email: "kept@example.org".to_owned(),
            walk_in: false,
            joined_at: None,
            left_at,
            inches: false,
            version: 1,
        };
        let students = [
            student("1", "Ada", None),
            student("2", "Ilo", None),
            student("3", "Uma", Some(at)),
            student("9", "Not in the file", None),
        ];
        let file = lines("roster_number,name\n1,Ada\n2,Ilo Vask\n3,Uma\n4,New\n");
        let planned = compare(file, &students);
        let effects: Vec<Effect> = planned.iter().map(|planned| planned.effect).collect();
        assert_eq!(effects, [Effect::Unchanged, Effect::Changed, Effect::BackOn, Effect::Added]);
        let after = planned[1].after().expect("somebody");
        assert_eq!((after.name.as_str(), after.email.as_str()), ("Ilo Vask", "kept@example.org"));

        let file = lines("roster_number,name,email_optional\n1,Ada,\n");
        assert_eq!(compare(file, &students)[0].effect, Effect::Changed, "a column left empty takes the address away");
    }
}
