//! Which streams of events are open: a few a sign-in, a few more a person, and never so many that ordinary requests find
//! no connection. Where there are too many the oldest gives way.

use std::sync::{
    Arc, Mutex, MutexGuard, PoisonError,
    atomic::{AtomicU64, Ordering},
};

use tokio::sync::watch;

/// Pages of one sign-in that follow: the floor and the bare floor, a bench in two tabs.
const MOST_A_SIGN_IN: usize = 4;
/// Of one person, who may be signed in on several computers.
const MOST_A_PERSON: usize = 12;
/// In all; the other half of the connections is left for ordinary requests.
const MOST: usize = super::listen::MOST_CONNECTIONS / 2;

/// One open stream.
#[derive(Debug)]
struct Open {
    number: u64,
    token: [u8; 32],
    person: String,
    gives_way: watch::Sender<bool>,
}

/// All open streams, the oldest first.
#[derive(Debug, Default)]
pub struct Streams {
    open: Mutex<Vec<Open>>,
    next: AtomicU64,
    gave_way: AtomicU64,
}

/// A stream's place; free when dropped.
#[derive(Debug)]
pub struct Place {
    streams: Arc<Streams>,
    number: u64,
    gives_way: watch::Receiver<bool>,
}

impl Place {
    /// Comes back when the stream must give way to a newer one.
    pub async fn must_give_way(&mut self) {
        // a sender that is gone has been told to end as well
        drop(self.gives_way.wait_for(|must| *must).await);
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        self.streams.lock().retain(|open| open.number != self.number);
    }
}

impl Streams {
    fn lock(&self) -> MutexGuard<'_, Vec<Open>> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A place for a new stream; the oldest of the same sign-in or person gives way to it. When there are as many as there
    /// may be in all, the oldest of whoever has most does.
    pub fn place(self: &Arc<Self>, token: [u8; 32], person: &str) -> Place {
        let mut open = self.lock();
        if open.iter().filter(|one| one.token == token).count() >= MOST_A_SIGN_IN {
            self.ends_first(&mut open, |one| one.token == token);
        }
        if open.iter().filter(|one| one.person == person).count() >= MOST_A_PERSON {
            self.ends_first(&mut open, |one| one.person == person);
        }
        if open.len() >= MOST {
            let of = |one: &Open| open.iter().filter(|other| other.person == one.person).count();
            let greediest = open.iter().max_by_key(|one| of(one)).map(|one| one.person.clone());
            tracing::warn!(open = open.len(), "as many streams of events are open as may be");
            self.ends_first(&mut open, |one| Some(&one.person) == greediest.as_ref());
        }
        let number = self.next.fetch_add(1, Ordering::Relaxed);
        let (tell, gives_way) = watch::channel(false);
        open.push(Open { number, token, person: person.to_owned(), gives_way: tell });
        Place { streams: Arc::clone(self), number, gives_way }
    }

    fn ends_first(&self, open: &mut Vec<Open>, which: impl Fn(&Open) -> bool) {
        let Some(at) = open.iter().position(which) else { return };
        let ended = open.remove(at);
        ended.gives_way.send_replace(true);
        let before = self.gave_way.fetch_add(1, Ordering::Relaxed);
        // one line now and then: whoever opens thousands must not fill the log as well
        if before.is_multiple_of(100) {
            tracing::warn!(so_far = before + 1, "a stream of events gave way: one sign-in or person holds many");
        }
    }

    /// How many are open, and how many gave way since the server was started.
    pub fn counted(&self) -> (usize, u64) {
        (self.lock().len(), self.gave_way.load(Ordering::Relaxed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn the_oldest_of_a_sign_in_gives_way_and_nobody_elses() {
        let streams = Arc::new(Streams::default());
        let mut others = streams.place([9; 32], "Anselm");
        let mut mine: Vec<_> = (0..MOST_A_SIGN_IN).map(|_| streams.place([1; 32], "Teodora")).collect();
        let newest = streams.place([1; 32], "Teodora");
        mine[0].must_give_way().await;
        for place in mine.iter_mut().skip(1).chain([&mut others]) {
            assert!(!*place.gives_way.borrow_and_update());
        }
        assert_eq!(streams.counted(), (1 + MOST_A_SIGN_IN, 1));
        drop((mine, newest, others));
        assert_eq!(streams.counted(), (0, 1));
    }

    #[test]
    fn many_sign_ins_of_one_person_hold_no_more_than_a_person_may() {
        let streams = Arc::new(Streams::default());
        let places: Vec<_> = (0..60).map(|token| streams.place([token; 32], "Teodora")).collect();
        assert_eq!(streams.counted().0, MOST_A_PERSON);
        drop(places);
    }

    #[test]
    fn half_of_the_connections_is_left_for_ordinary_requests() {
        let streams = Arc::new(Streams::default());
        let mut places = Vec::new();
        for number in 0..1_000_u32 {
            let mut token = [0; 32];
            token[..4].copy_from_slice(&number.to_be_bytes());
            places.push(streams.place(token, &number.to_string()));
        }
        assert_eq!(streams.counted().0, MOST);
        const { assert!(MOST * 2 <= super::super::listen::MOST_CONNECTIONS) };
    }
}
