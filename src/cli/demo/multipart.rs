//! A form with a picture, as a browser sends it.

use std::fmt::Write as _;

/// The parts of a form that carries a file, and the boundary between them.
pub fn multipart(fields: &[(String, String)], picture: &[u8]) -> (String, Vec<u8>) {
    let boundary = "part-of-the-demo";
    let mut text = String::new();
    for (name, value) in fields {
        let _ = write!(text, "--{boundary}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
    }
    let _ = write!(
        text,
        "--{boundary}\r\nContent-Disposition: form-data; name=\"file\"; filename=\"sheet.jpg\"\r\nContent-Type: image/jpeg\r\n\r\n"
    );
    let mut body = text.into_bytes();
    body.extend_from_slice(picture);
    body.extend_from_slice(format!("\r\n--{boundary}--\r\n").as_bytes());
    (format!("multipart/form-data; boundary={boundary}"), body)
}
