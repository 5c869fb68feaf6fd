//! Files beside the sheet, read with the same care: all problems at once, each with its place.

use schemars::JsonSchema;
use serde::de::DeserializeOwned;

use super::check::{Places, check};
use super::problem::{Problem, SheetError};

/// A file's content and where its keys stand.
#[derive(Debug)]
pub(crate) struct Read<T> {
    /// Content.
    pub content: T,
    file: String,
    places: Places,
    problems: Vec<Problem>,
}

impl<T: DeserializeOwned + JsonSchema> Read<T> {
    /// Reads `text`; `file` is only for messages.
    pub(crate) fn parse(text: &str, file: &str) -> Result<Self, SheetError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let checked = check(text, &schemars::schema_for!(T).to_value());
        let mut problems = checked.problems;
        match toml::from_str::<T>(text) {
            // what is wrong so far comes with what the caller finds
            Ok(content) => Ok(Self {
                content,
                file: file.to_owned(),
                places: checked.places,
                problems,
            }),
            Err(error) => {
                if problems.is_empty() {
                    problems.push(super::from_serde(text, &error));
                }
                Err(SheetError::new(file, problems))
            }
        }
    }

    /// Notes something wrong at `key`, or at the top where the file doesn't have it.
    pub(crate) fn fault(&mut self, key: &str, message: impl Into<String>, hint: impl Into<String>) {
        let place = self.places.get(key);
        self.problems.push(Problem {
            line: place.map_or(1, |p| p.line),
            column: place.map_or(1, |p| p.column),
            key: key.to_owned(),
            value: place.map(|p| p.value.clone()).unwrap_or_default(),
            limit: String::new(),
            message: message.into(),
            hint: hint.into(),
        });
    }

    /// The content, if nothing was noted.
    pub(crate) fn finish(self) -> Result<T, SheetError> {
        if self.problems.is_empty() {
            Ok(self.content)
        } else {
            Err(SheetError::new(&self.file, self.problems))
        }
    }
}
