//! What every handler can reach.

use std::sync::Arc;

use tokio::sync::watch;

use crate::{
    clock::World,
    domain::{ids::Id, instant::Instant, people::actor::Actor},
    secrets::Hasher,
    store::{Stamp, Store},
};

use super::{
    answers::Answers,
    left_seats::LeftSeats,
    reach::Reach,
    seen_pictures::SeenPictures,
    shown_once::ShownOnce,
    slow_work::{Places, SlowWork},
    slowdown::Slowdown,
    streams::Streams,
};

/// Pages and pictures of what a hole does. A class of thirty opens the page with its three pictures at once.
const OPTICS: Places = Places { at_once: 1, at_once_a_person: 1, waiting: 120, waiting_a_person: 6 };
/// Pictures being sent: a few, since a slow sender holds a place for half a minute, each with its bytes in memory.
const UPLOADS: Places = Places { at_once: 6, at_once_a_person: 1, waiting: 40, waiting_a_person: 3 };
/// Passwords and seat keys that strangers typed. A class that comes at once from one address stands in one line.
const HASHING: Places = Places { at_once: 2, at_once_a_person: 1, waiting: 200, waiting_a_person: 60 };

/// What every handler can reach; cheap to clone.
#[derive(Clone, Debug)]
pub struct AppState {
    /// The database.
    pub store: Store,
    /// Time and chance.
    pub world: World,
    /// Password and seat key hashing.
    pub hasher: Hasher,
    /// Slows repeated wrong tries.
    pub slowdown: Arc<Slowdown>,
    /// What is shown once and kept nowhere else: seat keys and one-time links.
    pub shown: Arc<ShownOnce>,
    /// Seats that were left and are not yet noted as left in the database.
    pub left: Arc<LeftSeats>,
    /// Random bytes of this run of the server: mixed into whatever must not be guessed from the
    /// database file.
    pub pepper: Arc<[u8; 32]>,
    /// How the server is reached.
    pub reach: Arc<Reach>,
    /// Counts of answers given.
    pub answers: Arc<Answers>,
    /// Set when the server is told to stop: streams that would go on for ever end then.
    pub closing: watch::Sender<bool>,
    /// Streams of events that are open.
    pub streams: Arc<Streams>,
    /// The optics of holes: pages and test figures.
    pub optics: Arc<SlowWork>,
    /// Pictures that people send, from before their bytes are read.
    pub uploads: Arc<SlowWork>,
    /// Hashing for whoever has not signed in yet.
    pub hashing: Arc<SlowWork>,
    /// Pictures that were computed.
    pub pictures: Arc<SeenPictures>,
}

impl AppState {
    /// Puts the parts together.
    pub fn new(store: Store, world: World, hasher: Hasher, reach: Reach) -> Self {
        let pepper = Arc::new(world.chance.bytes());
        Self {
            store,
            world,
            hasher,
            slowdown: Arc::new(Slowdown::default()),
            shown: Arc::new(ShownOnce::default()),
            left: Arc::new(LeftSeats::default()),
            pepper,
            reach: Arc::new(reach),
            answers: Arc::new(Answers::default()),
            closing: watch::Sender::new(false),
            streams: Arc::new(Streams::default()),
            optics: SlowWork::new(OPTICS),
            uploads: SlowWork::new(UPLOADS),
            hashing: SlowWork::new(HASHING),
            pictures: Arc::new(SeenPictures::default()),
        }
    }

    /// The present moment.
    pub fn now(&self) -> Instant {
        self.world.now()
    }

    /// A new id.
    pub fn mint<T: Id>(&self) -> T {
        self.world.mint()
    }

    /// A stamp for a write that no form caused.
    pub fn server_stamp(&self) -> Stamp {
        Stamp::server(self.now())
    }

    /// A stamp for a write of `actor` that needs no receipt (noting that a sign-in was used).
    pub fn quiet_stamp(&self, actor: Actor) -> Stamp {
        Stamp { actor, ..self.server_stamp() }
    }
}
