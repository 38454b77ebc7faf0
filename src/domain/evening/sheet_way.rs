//! The way of one sheet through the evening: loading, outside, waiting for a place, in the trays.
//! Its last place, judged, is not stored: then the way has ended and the exposure says the rest.

use crate::domain::{
    ids::{CameraId, ExposureId, LabSessionId, SheetWayId},
    instant::Instant,
};

/// Where a sheet is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// In the dark room, into its camera.
    Loading,
    /// In its camera, outside.
    Outside,
    /// Back, in its camera still, until there is a place in the dark room.
    Waiting,
    /// In the dark room, out of its camera.
    InTheTrays,
}

impl Place {
    /// In the order of the way.
    pub const ALL: [Self; 4] = [Self::Loading, Self::Outside, Self::Waiting, Self::InTheTrays];

    /// The stored words, which are also those for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Loading => "loading",
            Self::Outside => "outside",
            Self::Waiting => "waiting for a place",
            Self::InTheTrays => "in the trays",
        }
    }

    /// From the stored words.
    pub fn from_words(words: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|place| place.as_str() == words)
    }

    /// Whether whoever has it stands in the dark room.
    pub fn in_the_dark(self) -> bool {
        matches!(self, Self::Loading | Self::InTheTrays)
    }

    /// Where it can go next. Film in a body cap never sees the trays.
    pub fn onward(self, uses_trays: bool) -> &'static [Self] {
        match self {
            Self::Loading => &[Self::Outside],
            Self::Outside if uses_trays => &[Self::Waiting, Self::InTheTrays],
            Self::Waiting if uses_trays => &[Self::InTheTrays],
            _ => &[],
        }
    }
}

/// One sheet on its way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetWay {
    /// Its id.
    pub id: SheetWayId,
    /// The evening.
    pub session: LabSessionId,
    /// The camera it is in, or was.
    pub camera: CameraId,
    /// Where it is.
    pub place: Place,
    /// Since when.
    pub since: Instant,
    /// When its way began.
    pub begun: Instant,
    /// Its record, once there is one.
    pub exposure: Option<ExposureId>,
    /// Counts moves.
    pub version: i64,
}

/// The sheet that a record written now is taken to be: of a camera's sheets on their way, in the order they were
/// begun, the one that is longest on its way without a record.
pub fn next_to_record(ways: &[SheetWay]) -> Option<&SheetWay> {
    ways.iter().find(|way| way.exposure.is_none())
}

/// The dark room: who stands in it, and who is next.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DarkRoom {
    /// The cameras whose sheets are in it.
    pub inside: Vec<CameraId>,
    /// The cameras whose sheets wait for a place, the longest first.
    pub waiting: Vec<CameraId>,
    /// How many can stand in it; `None` when nobody entered it.
    pub places: Option<i64>,
}

impl DarkRoom {
    /// From all sheets on their way.
    pub fn of(ways: &[SheetWay], places: Option<i64>) -> Self {
        let mut waiting: Vec<&SheetWay> = ways.iter().filter(|way| way.place == Place::Waiting).collect();
        waiting.sort_by_key(|way| (way.since, way.id));
        Self {
            inside: ways.iter().filter(|way| way.place.in_the_dark()).map(|way| way.camera).collect(),
            waiting: waiting.into_iter().map(|way| way.camera).collect(),
            places,
        }
    }

    /// How many places are free; `None` when it is not known how many there are.
    pub fn free(&self) -> Option<i64> {
        let taken = i64::try_from(self.inside.len()).unwrap_or(i64::MAX);
        self.places.map(|places| (places - taken).max(0))
    }

    /// Where a waiting camera stands in the row: 1 is next.
    pub fn position(&self, camera: CameraId) -> Option<usize> {
        self.waiting.iter().position(|waiting| *waiting == camera).map(|index| index + 1)
    }

    /// Who may come in now: the first of the row, as many as there are places.
    pub fn may_come(&self) -> &[CameraId] {
        let free = self.free().map_or(0, |free| usize::try_from(free).unwrap_or(0));
        &self.waiting[..free.min(self.waiting.len())]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::Id;

    fn way(number: u8, place: Place, minutes: i64) -> SheetWay {
        let uuid = |part: u8| uuid::Uuid::from_bytes([part; 16]);
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(minutes);
        SheetWay {
            id: SheetWayId::from_uuid(uuid(number)),
            session: LabSessionId::from_uuid(uuid(99)),
            camera: CameraId::from_uuid(uuid(number)),
            place,
            since: at,
            begun: at,
            exposure: None,
            version: 1,
        }
    }

    #[test]
    fn who_waits_longest_is_next_and_comes_in_when_a_place_is_free() {
        let ways = [
            way(1, Place::InTheTrays, 0),
            way(2, Place::Waiting, 9),
            way(3, Place::Loading, 4),
            way(4, Place::Waiting, 5),
            way(5, Place::Outside, 2),
        ];
        let camera = |number: usize| ways[number - 1].camera;
        let room = DarkRoom::of(&ways, Some(3));
        assert_eq!(room.inside, [camera(1), camera(3)]);
        assert_eq!((room.free(), room.may_come()), (Some(1), &[camera(4)][..]));
        assert_eq!(
            (room.position(camera(4)), room.position(camera(2)), room.position(camera(5))),
            (Some(1), Some(2), None)
        );
        let full = DarkRoom::of(&ways, Some(1));
        assert_eq!((full.free(), full.may_come()), (Some(0), &[][..]));
        // nobody entered how many places there are: nobody is called in by guess
        assert_eq!((DarkRoom::of(&ways, None).free(), DarkRoom::of(&ways, None).may_come()), (None, &[][..]));
    }

    #[test]
    fn a_record_is_that_of_the_sheet_longest_on_its_way_without_one() {
        let world = crate::clock::World::system();
        let mut ways = [way(1, Place::InTheTrays, 0), way(2, Place::InTheTrays, 4), way(3, Place::Loading, 9)];
        ways[0].exposure = Some(world.mint());
        assert_eq!(next_to_record(&ways).map(|way| way.id), Some(ways[1].id));
        assert_eq!(next_to_record(&ways[..1]), None);
    }

    #[test]
    fn a_sheet_goes_forward_only_and_film_in_a_body_cap_skips_the_trays() {
        for place in Place::ALL {
            assert_eq!(Place::from_words(place.as_str()), Some(place));
            assert!(place.onward(true).iter().all(|next| *next > place));
        }
        assert_eq!(Place::Loading.onward(false), [Place::Outside]);
        assert!(Place::Outside.onward(false).is_empty());
    }
}
