//! Pictures of what a hole does that were computed: kept, since each has an address of nothing but its numbers.

use std::{
    collections::VecDeque,
    sync::{Arc, Mutex, PoisonError},
};

use axum::{
    body::{Body, Bytes},
    http::{HeaderValue, header},
    response::Response,
};

use crate::{
    calc::optics::{
        diffraction::Diffraction,
        picture::{self, TestFigure},
    },
    drawing::grey_png,
};

use super::{error::WebError, slow_work::SlowWork};

/// Pictures that were made, the newest last.
#[derive(Debug, Default)]
pub struct SeenPictures {
    kept: Mutex<VecDeque<(String, Bytes)>>,
}

/// Pictures kept: some 60 kB each.
const MOST_KEPT: usize = 96;

impl SeenPictures {
    /// The picture under its key: from what is kept, or made now for `person`, in their turn.
    ///
    /// # Errors
    /// 503 when too many wait, 500 when the computing thread breaks.
    pub async fn answer(
        &self,
        slow: &Arc<SlowWork>,
        person: &str,
        key: String,
        image: Diffraction,
        figure: TestFigure,
    ) -> Result<Response, WebError> {
        if let Some(png) = self.find(&key) {
            return Ok(shown(png));
        }
        let turn = slow.turn(person).await?;
        // somebody before us may have wanted the same
        if let Some(png) = self.find(&key) {
            return Ok(shown(png));
        }
        let (made, _turn) = turn.run(move || grey_png::encoded(&picture::through(&image, figure))).await?;
        let png = Bytes::from(made.map_err(|error| WebError::Ours(format!("a picture was not made: {error}")))?);
        self.keep(key, png.clone());
        Ok(shown(png))
    }

    fn find(&self, key: &str) -> Option<Bytes> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(of, _)| of == key).map(|(_, png)| png.clone())
    }

    fn keep(&self, key: String, png: Bytes) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() >= MOST_KEPT {
            kept.pop_front();
        }
        kept.push_back((key, png));
    }
}

/// A picture of numbers alone: it never changes, and says nothing of a person.
fn shown(png: Bytes) -> Response {
    let mut response = Response::new(Body::from(png));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("image/png"));
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("private, max-age=86400, immutable"));
    response
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::{
        optics::diffraction::Spectrum,
        quantity::{FilmSide, HoleDiameter, HoleToFilm, Wavelength},
    };
    use crate::web::kit::slow_work::Places;

    fn image(hole: f64) -> Diffraction {
        let light = Spectrum::single(Wavelength::new(550.0).expect("in range"));
        let hole = HoleDiameter::new(hole).expect("in range");
        Diffraction::new(hole, HoleToFilm::new(120.0).expect("in range"), None, light).expect("no plain shadow")
    }

    fn figure(width: f64) -> TestFigure {
        let side = |mm| FilmSide::new(mm).expect("in range");
        TestFigure::on(side(width), side(width))
    }

    #[tokio::test]
    async fn a_picture_is_made_once_and_kept_under_its_numbers() {
        let pictures = SeenPictures::default();
        let few = Places { at_once: 1, at_once_a_person: 1, waiting: 0, waiting_a_person: 0 };
        let slow = SlowWork::new(few);
        let ask = || pictures.answer(&slow, "Teodora", "a.png".to_owned(), image(0.4), figure(24.0));
        assert!(ask().await.is_ok());
        assert_eq!(pictures.kept.lock().expect("one test").len(), 1);
        let held = slow.turn("Anselm").await.expect("nobody works any more");
        assert!(ask().await.is_ok(), "what is kept needs no turn");
        let another = pictures.answer(&slow, "Teodora", "b.png".to_owned(), image(0.4), figure(24.0)).await;
        assert!(matches!(another, Err(WebError::Busy)));
        drop(held);
    }

    #[test]
    fn what_is_kept_is_bounded() {
        let pictures = SeenPictures::default();
        for i in 0..MOST_KEPT + 3 {
            pictures.keep(format!("{i}.png"), Bytes::from_static(b"picture"));
        }
        assert_eq!(pictures.kept.lock().expect("one test").len(), MOST_KEPT);
        assert!(pictures.find("0.png").is_none() && pictures.find("5.png").is_some(), "the oldest go first");
    }
}
