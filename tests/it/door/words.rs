//! The glossary.

use crate::app::TestApp;

#[tokio::test]
async fn anybody_can_look_a_word_up_by_its_address() {
    let app = TestApp::new().await;
    let page = app.client().get("/words").await;
    assert_eq!(page.status, 200);
    assert_eq!(page.text("[id=carry-over]"), "Carry-over");
    assert!(page.text("[id=carry-over] + dd").starts_with("The liquid a drained sheet takes"));
}
