//! The notice for the lab door: the rules of the dark room, where the bench is and its code, whom to call.

use askama::Template;
use axum::{
    extract::{Path, State},
    http::{HeaderMap, header},
    response::{IntoResponse, Response},
};
use fast_qr::{ECL, QRBuilder};

use crate::{
    domain::ids::LabSessionId,
    store::{evening::lab_sessions, people::sections, site::sites},
    web::kit::{error::WebError, frame::Frame, page::Page, reach::Reach, state::AppState},
};

#[derive(Template)]
#[template(path = "print/poster.html")]
struct PosterPage {
    frame: Frame,
    id: LabSessionId,
    section_name: String,
    title: String,
    held_on: String,
    door_code: String,
    walk_ins: bool,
    address: String,
    /// Nobody else's computer reaches this address.
    only_here: bool,
    qr: Option<QrDrawing>,
    emergency_line: String,
}

/// A QR code as one path of unit squares.
pub(super) struct QrDrawing {
    /// Side of the drawing in squares, the quiet zone of four included.
    side: usize,
    path: String,
}

impl QrDrawing {
    /// The code of a text; `None` when it is too long for one.
    fn of(text: &str) -> Option<Self> {
        const QUIET: usize = 4;
        let code = QRBuilder::new(text).ecl(ECL::M).build().ok()?;
        let mut path = String::new();
        for row in 0..code.size {
            for (column, module) in code[row].iter().enumerate() {
                if module.value() {
                    path.push_str(&format!("M{} {}h1v1h-1z", column + QUIET, row + QUIET));
                }
            }
        }
        Some(Self { side: code.size + 2 * QUIET, path })
    }
}

/// The address to type: the public one, or the one this page was asked for at.
fn address(reach: &Reach, headers: &HeaderMap) -> String {
    if let Some(url) = &reach.public_url {
        return url.trim_end_matches('/').to_owned();
    }
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or("localhost");
    format!("http://{host}")
}

fn is_only_here(address: &str) -> bool {
    let host = address.split_once("://").map_or(address, |(_, rest)| rest);
    ["localhost", "127.", "[::1]"].iter().any(|here| host.starts_with(here))
}

pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let section = sections::find(&mut conn, session.section).await?.ok_or(WebError::NotFound("this section"))?;
    let site = sites::find(&mut conn).await?;
    let address = address(&state.reach, &headers);
    Ok(Page::new(PosterPage {
        frame,
        id,
        section_name: section.name,
        title: session.title,
        held_on: session.held_on.strftime("%A, %-d %B %Y").to_string(),
        qr: QrDrawing::of(&format!("{address}/?door_code={}", section.door_code)),
        door_code: section.door_code,
        walk_ins: section.walk_ins,
        only_here: is_only_here(&address),
        address,
        emergency_line: site.map_or(String::new(), |site| site.emergency_line),
    })
    .into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_qr_code_has_its_three_corner_squares_and_a_quiet_zone() {
        let drawing = QrDrawing::of("http://lab.test/?door_code=QUAY7").expect("short enough");
        assert_eq!((drawing.side - 8 - 17) % 4, 0, "versions differ by four squares (ISO/IEC 18004)");
        assert!(drawing.path.starts_with("M4 4h1"), "the corner square begins after four quiet ones");
        assert!(QrDrawing::of(&"x".repeat(8000)).is_none());
    }

    #[test]
    fn the_public_address_stands_above_the_one_asked_for() {
        let mut headers = HeaderMap::new();
        headers.insert(header::HOST, "10.0.0.5:8080".parse().expect("a host"));
        assert_eq!(address(&Reach::default(), &headers), "http://10.0.0.5:8080");
        let reach = Reach { public_url: Some("https://lab.example/".to_owned()), trusted_proxy: false };
        assert_eq!(address(&reach, &headers), "https://lab.example");
        assert!(is_only_here("http://127.0.0.1:8080") && is_only_here("http://localhost:8080"));
        assert!(!is_only_here("http://10.0.0.5:8080"));
    }
}
