//! Slow work: drawing optics, making pictures small, hashing what strangers typed. It has a few places of its own, away
//! from the threads that answer everybody; those who wait are bounded, and take turns person by person, so that nobody
//! who asks a hundred times keeps others waiting a hundred turns.

use std::{
    collections::{HashMap, VecDeque},
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicU64, Ordering},
    },
    time::Duration,
};

use tokio::sync::oneshot;

use super::error::WebError;

/// Nobody waits longer than this before being told to come again: a page must be answered while its reader still looks.
const LONGEST_WAIT: Duration = Duration::from_secs(15);

/// How much slow work goes on, and how much waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Places {
    /// So much at once.
    pub at_once: usize,
    /// So much at once for one person.
    pub at_once_a_person: usize,
    /// So many wait.
    pub waiting: usize,
    /// So many of them for one person.
    pub waiting_a_person: usize,
}

/// One kind of slow work.
#[derive(Debug)]
pub struct SlowWork {
    places: Places,
    inner: Mutex<Inner>,
    refused: AtomicU64,
}

#[derive(Debug, Default)]
struct Inner {
    working: usize,
    working_of: HashMap<String, usize>,
    /// Who waits, the next one first; each with their own line.
    persons: VecDeque<(String, VecDeque<oneshot::Sender<()>>)>,
}

impl Inner {
    fn waiting(&self) -> usize {
        self.persons.iter().map(|(_, line)| line.len()).sum()
    }

    fn waiting_of(&self, person: &str) -> usize {
        self.persons.iter().find(|(name, _)| name == person).map_or(0, |(_, line)| line.len())
    }

    /// Those who hung up wait no more.
    fn forget_gone(&mut self) {
        for (_, line) in &mut self.persons {
            line.retain(|waiting| !waiting.is_closed());
        }
        self.persons.retain(|(_, line)| !line.is_empty());
    }

    fn may_begin(&self, person: &str, places: Places) -> bool {
        self.working < places.at_once && self.working_of.get(person).copied().unwrap_or(0) < places.at_once_a_person
    }

    fn begins(&mut self, person: &str) {
        self.working += 1;
        *self.working_of.entry(person.to_owned()).or_default() += 1;
    }

    fn ends(&mut self, person: &str) {
        self.working = self.working.saturating_sub(1);
        if let Some(count) = self.working_of.get_mut(person) {
            *count -= 1;
            if *count == 0 {
                self.working_of.remove(person);
            }
        }
    }

    /// Gives free places to whoever is next and may have one; they then stand behind all others.
    fn pass_on(&mut self, places: Places) {
        self.forget_gone();
        while let Some(at) = self.persons.iter().position(|(person, _)| self.may_begin(person, places)) {
            let Some((person, mut line)) = self.persons.remove(at) else { return };
            let next = line.pop_front();
            if !line.is_empty() {
                self.persons.push_back((person.clone(), line));
            }
            // counted before it is told, so that no other takes the place between
            self.begins(&person);
            if next.is_none_or(|next| next.send(()).is_err()) {
                self.ends(&person);
            }
        }
    }
}

/// A place in the slow work; free again when dropped.
#[derive(Debug)]
#[must_use = "the place is held until this is dropped"]
pub struct Turn {
    work: Arc<SlowWork>,
    person: String,
}

impl Drop for Turn {
    fn drop(&mut self) {
        let mut inner = self.work.lock();
        inner.ends(&self.person);
        inner.pass_on(self.work.places);
    }
}

/// Told of a place; whoever hung up in that very moment gives it back.
struct Told {
    told: oneshot::Receiver<()>,
    work: Arc<SlowWork>,
    person: String,
}

impl Drop for Told {
    fn drop(&mut self) {
        self.told.close();
        if self.told.try_recv().is_ok() {
            drop(Turn { work: Arc::clone(&self.work), person: self.person.clone() });
        }
    }
}

impl SlowWork {
    /// Work with so many places.
    pub fn new(places: Places) -> Arc<Self> {
        Arc::new(Self { places, inner: Mutex::default(), refused: AtomicU64::new(0) })
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits for a place. `person` is whoever it is done for: those with the same name share their turns.
    ///
    /// # Errors
    /// [`WebError::Busy`] when too many wait already, or none became free in time.
    pub async fn turn(self: &Arc<Self>, person: &str) -> Result<Turn, WebError> {
        let mut waiting = {
            let mut inner = self.lock();
            inner.forget_gone();
            // whoever comes does not go before those who wait and could begin
            if inner.may_begin(person, self.places) && inner.waiting_of(person) == 0 {
                inner.begins(person);
                return Ok(Turn { work: Arc::clone(self), person: person.to_owned() });
            }
            let full =
                inner.waiting() >= self.places.waiting || inner.waiting_of(person) >= self.places.waiting_a_person;
            if full {
                self.refused.fetch_add(1, Ordering::Relaxed);
                return Err(WebError::Busy);
            }
            let (tell, told) = oneshot::channel();
            match inner.persons.iter_mut().find(|(name, _)| name == person) {
                Some((_, line)) => line.push_back(tell),
                None => inner.persons.push_back((person.to_owned(), VecDeque::from([tell]))),
            }
            Told { told, work: Arc::clone(self), person: person.to_owned() }
        };
        match tokio::time::timeout(LONGEST_WAIT, &mut waiting.told).await {
            Ok(Ok(())) => Ok(Turn { work: Arc::clone(self), person: person.to_owned() }),
            _ => {
                self.refused.fetch_add(1, Ordering::Relaxed);
                Err(WebError::Busy)
            }
        }
    }

    /// Does the work off the threads that answer, when its turn has come. A visitor who hangs up does not free the place
    /// before the work is done: the thread is still at it.
    ///
    /// # Errors
    /// [`WebError::Busy`] as [`SlowWork::turn`]; 500 when the work breaks.
    pub async fn run<T: Send + 'static>(
        self: &Arc<Self>,
        person: &str,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, WebError> {
        self.turn(person).await?.run(work).await.map(|(done, _)| done)
    }

    /// How many wait, and how many were told to come again since the server was started.
    pub fn counted(&self) -> (usize, u64) {
        (self.lock().waiting(), self.refused.load(Ordering::Relaxed))
    }
}

impl Turn {
    /// Does work in this place, off the threads that answer; gives the place back with what was done.
    ///
    /// # Errors
    /// 500 when the work breaks.
    pub async fn run<T: Send + 'static>(
        self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<(T, Self), WebError> {
        let done = tokio::task::spawn_blocking(move || (work(), self)).await;
        done.map_err(|error| WebError::Ours(format!("slow work broke: {error}")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FEW: Places = Places { at_once: 1, at_once_a_person: 1, waiting: 4, waiting_a_person: 2 };

    /// Waits until so many stand in line.
    async fn wait_for(work: &Arc<SlowWork>, waiting: usize) {
        while work.counted().0 != waiting {
            tokio::task::yield_now().await;
        }
    }

    fn waits(
        work: &Arc<SlowWork>,
        person: &'static str,
        order: &Arc<Mutex<Vec<&'static str>>>,
    ) -> tokio::task::JoinHandle<()> {
        let (work, order) = (Arc::clone(work), Arc::clone(order));
        tokio::spawn(async move {
            let turn = work.turn(person).await.expect("a turn");
            order.lock().expect("one test").push(person);
            drop(turn);
        })
    }

    #[tokio::test]
    async fn turns_go_round_person_by_person() {
        let (work, order) = (SlowWork::new(FEW), Arc::default());
        let held = work.turn("Teodora").await.expect("a free place");
        let mut tasks = Vec::new();
        for (at, person) in ["Teodora", "Teodora", "Anselm"].into_iter().enumerate() {
            tasks.push(waits(&work, person, &order));
            wait_for(&work, at + 1).await;
        }
        drop(held);
        for task in tasks {
            task.await.expect("done");
        }
        assert_eq!(*order.lock().expect("one test"), ["Teodora", "Anselm", "Teodora"]);
    }

    #[tokio::test]
    async fn those_who_wait_are_bounded_in_all_and_for_each_person() {
        let (work, order) = (SlowWork::new(FEW), Arc::default());
        let held = work.turn("Teodora").await.expect("a free place");
        let mut tasks = Vec::new();
        for (at, person) in ["Olu", "Olu", "Anselm", "Ilse"].into_iter().enumerate() {
            tasks.push(waits(&work, person, &order));
            wait_for(&work, at + 1).await;
        }
        assert!(matches!(work.turn("Pat").await, Err(WebError::Busy)), "four wait");
        tasks.pop().expect("one").abort();
        while !matches!(work.turn("Olu").await, Err(WebError::Busy)) {}
        assert!(work.counted().1 >= 2);
        drop(held);
        for task in tasks {
            task.await.expect("done");
        }
        drop(work.turn("Pat").await.expect("free again"));
    }

    #[tokio::test]
    async fn a_place_told_to_somebody_who_hung_up_is_not_lost() {
        let (work, order) = (SlowWork::new(FEW), Arc::default());
        let held = work.turn("Teodora").await.expect("a free place");
        let gone = waits(&work, "Olu", &order);
        wait_for(&work, 1).await;
        // told, but not yet awake
        drop(held);
        gone.abort();
        drop(gone.await);
        drop(work.turn("Anselm").await.expect("the place is free"));
    }

    #[tokio::test]
    async fn work_is_done_and_its_place_given_back() {
        let work = SlowWork::new(FEW);
        for _ in 0..3 {
            assert_eq!(work.run("Teodora", || 6 * 7).await.expect("done"), 42);
        }
        assert_eq!(work.counted(), (0, 0));
    }
}
