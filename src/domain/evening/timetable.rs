//! A session's timetable, made honest by the places in the dark: however many cameras there are, only
//! so many people can load and develop at a time.

/// The minutes of one cycle, step by step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cycle {
    /// Loading the camera, in the dark.
    pub load: f64,
    /// Walking out and back.
    pub walk: f64,
    /// Exposing, with setting up.
    pub expose: f64,
    /// Developing, in the dark.
    pub develop: f64,
    /// The stop bath, in the dark.
    pub stop: f64,
    /// Fixing, in the dark.
    pub fix: f64,
    /// Washing and judging, in the light.
    pub wash: f64,
}

impl Cycle {
    /// The slow end of what teaching labs take: 17 to 23 minutes in all (value from memory).
    pub const USUAL: Self = Self { load: 3.0, walk: 5.0, expose: 3.0, develop: 2.0, stop: 0.5, fix: 4.0, wash: 5.0 };

    /// All of it.
    pub fn whole(&self) -> f64 {
        self.in_the_dark() + self.walk + self.expose + self.wash
    }

    /// Minutes at a place in the dark, for one sheet.
    pub fn in_the_dark(&self) -> f64 {
        self.load + self.trays()
    }

    /// Minutes at the trays.
    pub fn trays(&self) -> f64 {
        self.develop + self.stop + self.fix
    }
}

/// What a timetable is made for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evening {
    /// How long it lasts, minutes.
    pub minutes: f64,
    /// Briefing and safety, minutes.
    pub briefing: f64,
    /// Building and measuring, minutes; 0 when the cameras are built.
    pub building: f64,
    /// Testing the cameras for light, minutes.
    pub testing: f64,
    /// Cleaning up, pouring into containers, writing down, minutes.
    pub clearing: f64,
    /// Cameras in use.
    pub cameras: u32,
    /// Places in the dark, at least 1.
    pub places: u32,
    /// One cycle of a sheet.
    pub cycle: Cycle,
    /// Exposing a contact print, minutes.
    pub print_exposure: f64,
    /// Sheets each camera is to make.
    pub rounds_wanted: u32,
    /// Contact prints in all.
    pub prints: u32,
}

/// A stretch of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Minutes after the beginning.
    pub from: f64,
    /// How long.
    pub minutes: f64,
    /// What happens.
    pub what: String,
}

/// What fits.
#[derive(Clone, Debug, PartialEq)]
pub struct Timetable {
    /// From the beginning to the end.
    pub stretches: Vec<Stretch>,
    /// Minutes until every camera has had one sheet through.
    pub round_minutes: f64,
    /// Whether the places in the dark decide that, rather than the cycle itself.
    pub places_decide: bool,
    /// How many rounds fit.
    pub rounds_fit: u32,
    /// Minutes that are missing for what is wanted; 0 when it fits.
    pub missing: f64,
}

impl Timetable {
    /// Works it out: a round takes a whole cycle, or longer when the cameras have to queue for the
    /// places: cameras × minutes in the dark / places.
    pub fn of(evening: &Evening) -> Self {
        let places = f64::from(evening.places.max(1));
        let cycle = evening.cycle;
        let queue = f64::from(evening.cameras) * cycle.in_the_dark() / places;
        let round_minutes = cycle.whole().max(queue);
        let printing = f64::from(evening.prints) * (evening.print_exposure + cycle.trays()) / places;
        let fixed = evening.briefing + evening.building + evening.testing + evening.clearing;
        let left = (evening.minutes - fixed - printing).max(0.0);
        let rounds_fit = (left / round_minutes + 1e-9).floor() as u32;
        let wanted = f64::from(evening.rounds_wanted) * round_minutes;
        let mut at = 0.0;
        let mut stretch = |minutes: f64, what: String| {
            let from = at;
            at += minutes;
            (minutes > 0.0).then_some(Stretch { from, minutes, what })
        };
        let rounds = rounds_fit.min(evening.rounds_wanted);
        let stretches = [
            stretch(evening.briefing, "briefing, safety, who works with whom".to_owned()),
            stretch(evening.building, "build, drill and measure the hole".to_owned()),
            stretch(evening.testing, "test the cameras for light".to_owned()),
            stretch(
                left,
                format!("{rounds} {} of load, expose, develop, judge", if rounds == 1 { "round" } else { "rounds" }),
            ),
            stretch(printing, format!("{} contact prints", evening.prints)),
            stretch(
                evening.clearing,
                "spent fixer into its container, trays washed, write everything down, lamps".to_owned(),
            ),
        ];
        Self {
            stretches: stretches.into_iter().flatten().collect(),
            round_minutes,
            places_decide: queue > cycle.whole(),
            rounds_fit,
            missing: (wanted + printing + fixed - evening.minutes).max(0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A section of three hours (value from memory): 0:15 build, 1:00 light test, 1:10
    /// three rounds, 2:10 prints, 2:45 clean; 12 boxes at 4 to 6 places.
    fn section() -> Evening {
        Evening {
            minutes: 180.0,
            briefing: 15.0,
            building: 45.0,
            testing: 10.0,
            clearing: 15.0,
            cameras: 12,
            places: 6,
            cycle: Cycle::USUAL,
            print_exposure: 1.0,
            rounds_wanted: 3,
            prints: 24,
        }
    }

    #[test]
    fn the_cycle_is_that_of_teaching_labs() {
        assert!((17.0..=23.0).contains(&Cycle::USUAL.whole()), "{}", Cycle::USUAL.whole());
    }

    #[test]
    fn three_hours_have_their_three_rounds_only_with_places_enough() {
        let six = Timetable::of(&section());
        assert!(!six.places_decide && (six.round_minutes - 22.5).abs() < 1e-9, "{six:?}");
        assert_eq!(six.rounds_fit, 2, "prints of all take half an hour of six places: {six:?}");
        let without_prints = Timetable::of(&Evening { prints: 0, ..section() });
        assert_eq!(without_prints.rounds_fit, 4, "{without_prints:?}");
        let four = Timetable::of(&Evening { places: 4, prints: 0, ..section() });
        assert!(four.places_decide, "{four:?}");
        assert!((four.round_minutes - 12.0 * 9.5 / 4.0).abs() < 1e-9, "{four:?}");
        assert_eq!(four.rounds_fit, 3);
    }

    #[test]
    fn what_does_not_fit_is_said_and_the_stretches_fill_the_time() {
        let crowded = Timetable::of(&Evening { places: 2, ..section() });
        assert!(crowded.missing > 0.0 && crowded.rounds_fit < 3, "{crowded:?}");
        let fits = Timetable::of(&Evening { rounds_wanted: 2, ..section() });
        assert_eq!(fits.missing, 0.0);
        let sum: f64 = fits.stretches.iter().map(|stretch| stretch.minutes).sum();
        assert!((sum - 180.0).abs() < 1e-9, "{fits:?}");
        for pair in fits.stretches.windows(2) {
            assert!((pair[0].from + pair[0].minutes - pair[1].from).abs() < 1e-9, "{fits:?}");
        }
    }

    #[test]
    fn more_places_never_make_it_slower() {
        let rounds = |places| Timetable::of(&Evening { places, ..section() }).rounds_fit;
        assert!((1..20).all(|places| rounds(places) <= rounds(places + 1)));
    }
}
