//! The forecasts on a page, carried by its form so that the sheet keeps what was shown. They come back
//! through the browser: a seal tells that nobody changed them on the way, and that they were this
//! camera's. A page from before the server was started anew is not known any more: then the sheet counts
//! as one whose forecast nobody was shown.

use sha2::{Digest, Sha256};

use crate::domain::{exposure::shown_forecast::ShownForecast, ids::CameraId};

/// The hidden field.
pub const SHOWN: &str = "shown";

/// The forecasts with their seal, as the hidden field holds them; empty when none is shown.
pub fn sealed(shown: &[ShownForecast], camera: CameraId, pepper: &[u8; 32]) -> String {
    if shown.is_empty() {
        return String::new();
    }
    let lines = shown.iter().map(ShownForecast::line).collect::<Vec<_>>().join("~");
    format!("{}~{lines}", seal(&lines, camera, pepper))
}

/// What a form brought back: nothing when its seal is not ours, or it was shown for another camera.
pub fn opened(sent: &str, camera: CameraId, pepper: &[u8; 32]) -> Vec<ShownForecast> {
    match sent.split_once('~') {
        Some((sealed, lines)) if sealed == seal(lines, camera, pepper) => {
            lines.split('~').filter_map(ShownForecast::parse).collect()
        }
        _ => Vec::new(),
    }
}

/// The secret is hashed before and after what it seals, so that nothing can be appended.
fn seal(lines: &str, camera: CameraId, pepper: &[u8; 32]) -> String {
    let mut hasher = Sha256::new();
    hasher.update(pepper);
    hasher.update(camera.to_string());
    hasher.update(lines);
    hasher.update(pepper);
    hasher.finalize().iter().take(16).map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::Id;

    fn camera(number: u128) -> CameraId {
        CameraId::from_uuid(uuid::Uuid::from_u128(number))
    }

    #[test]
    fn what_was_shown_comes_back_and_what_was_changed_or_is_of_another_camera_does_not() {
        let shown = ShownForecast {
            light: "heavy overcast".to_owned(),
            aim: String::new(),
            forecast_ms: 240_000,
            low_ms: 90_000,
            high_ms: 600_000,
            based_on: 2,
            experience_milli: 310,
        };
        let pepper = [7; 32];
        let sent = sealed(std::slice::from_ref(&shown), camera(1), &pepper);
        assert_eq!(opened(&sent, camera(1), &pepper), [shown]);
        assert!(opened(&sent, camera(2), &pepper).is_empty());
        assert!(opened(&sent.replace("240000", "200000"), camera(1), &pepper).is_empty());
        assert!(opened("", camera(1), &pepper).is_empty() && sealed(&[], camera(1), &pepper).is_empty());
    }
}
