//! Pictures that people send: bounded for each of them, and for the server.

use crate::{
    app::{Client, TestApp},
    bench::pictures::{a_jpeg, add_picture},
};

/// A PNG whose header promises so many pixels of sixteen bits in four colours.
fn promises(width: u32, height: u32) -> Vec<u8> {
    let mut header = vec![b'I', b'H', b'D', b'R'];
    header.extend(width.to_be_bytes());
    header.extend(height.to_be_bytes());
    header.extend([16, 6, 0, 0, 0]);
    let mut sum = u32::MAX;
    for byte in &header {
        sum ^= u32::from(*byte);
        for _ in 0..8 {
            sum = if sum & 1 == 1 { (sum >> 1) ^ 0xedb8_8320 } else { sum >> 1 };
        }
    }
    let mut png = vec![0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 13];
    png.extend(header);
    png.extend((!sum).to_be_bytes());
    // the beginning of data, so that a decoder finds its head complete
    png.extend([0, 0, 0, 0, b'I', b'D', b'A', b'T', 0x35, 0xaf, 0x06, 0x1e]);
    png
}

#[tokio::test]
async fn a_picture_that_would_take_too_much_memory_is_refused_from_its_header() {
    let (app, _, _, student) = TestApp::with_open_session().await;
    let session = app.the_evening().await.session.to_string();
    let refused = add_picture(&student, &session, &promises(6_300, 6_300), "").await;
    assert_eq!(refused.status, 422);
    let said = refused.text("[id=picture-file-error]");
    assert!(said.contains("megapixels"), "{said}");
}

async fn has_kept(app: &TestApp, student: &Client, pictures: usize, bytes: usize) {
    let session = app.the_evening().await.session.to_string();
    assert_eq!(add_picture(student, &session, &a_jpeg(), "").await.status, 303);
    app.write(move |tx| {
        Box::pin(async move {
            // in a report on an earlier evening: all under one, which no form would do
            for earlier in [
                "CREATE TEMP TABLE earlier AS SELECT * FROM lab_session",
                "UPDATE earlier SET id = randomblob(16), state = 'closed', closed_at = opened_at + 1",
                "INSERT INTO lab_session SELECT * FROM earlier",
                "INSERT INTO report (id, lab_session_id, student_id, body, state, saved_at)
                 SELECT randomblob(16), (SELECT id FROM earlier), student_id, '', 'draft', 1 FROM report",
            ] {
                sqlx::query(earlier).execute(&mut *tx).await?;
            }
            for _ in 1..pictures {
                sqlx::query(
                    "INSERT INTO report_picture (id, report_id, media_type, width_px, height_px, bytes, added_at)
                     SELECT randomblob(16), (SELECT id FROM report WHERE lab_session_id = (SELECT id FROM earlier)), 'image/jpeg', 1, 1, zeroblob(?), 1",
                )
                .bind(bytes as i64)
                .execute(&mut *tx)
                .await?;
            }
            Ok(String::new())
        })
    })
    .await;
}

#[tokio::test]
async fn a_student_keeps_so_many_pictures_and_no_more() {
    let (app, _, _, student) = TestApp::with_open_session().await;
    let session = app.the_evening().await.session.to_string();
    has_kept(&app, &student, 60, 10).await;
    let refused = add_picture(&student, &session, &a_jpeg(), "").await;
    assert_eq!(refused.status, 422);
    let said = refused.text("[id=picture-file-error]");
    assert!(said.contains("60 pictures"), "{said}: {}", refused.text("main"));
}

#[tokio::test]
async fn a_student_keeps_so_many_bytes_and_no_more() {
    let (app, _, _, student) = TestApp::with_open_session().await;
    let session = app.the_evening().await.session.to_string();
    has_kept(&app, &student, 26, 2 * 1024 * 1024).await;
    let refused = add_picture(&student, &session, &a_jpeg(), "").await;
    assert_eq!(refused.status, 422);
    let said = refused.text("[id=picture-file-error]");
    assert!(said.contains("48 MB"), "{said}: {}", refused.text("main"));
}
