//! What is wrong with a form, field by field.

/// Messages for a form, each beside its field. The empty field name is the form as a whole.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FieldErrors(Vec<(String, String)>);

impl FieldErrors {
    /// No message yet.
    pub fn none() -> Self {
        Self::default()
    }

    /// One message beside one field.
    pub fn one(field: impl Into<String>, message: impl Into<String>) -> Self {
        Self(vec![(field.into(), message.into())])
    }

    /// One message for the form as a whole.
    pub fn whole(message: impl Into<String>) -> Self {
        Self::one("", message)
    }

    /// Adds a message; a field keeps its first.
    pub fn add(&mut self, field: impl Into<String>, message: impl Into<String>) {
        let field = field.into();
        if field.is_empty() || self.of(&field).is_none() {
            self.0.push((field, message.into()));
        }
    }

    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The message beside a field, if there is one.
    pub fn of(&self, field: &str) -> Option<&str> {
        self.0.iter().find(|(name, _)| name == field).map(|(_, message)| message.as_str())
    }

    /// All of them, in the order they were found.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().map(|(field, message)| (field.as_str(), message.as_str()))
    }
}
