//! What a logger's files mean, `[log]`.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

/// Logger, `[log]`.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
pub struct LogSheet {
    /// Channel, with its unit at the end = header word of the file: `sensor_f = "Charge temp"`,
    /// `"skin.downpipe_c" = "TC 1"`. Columns that aren't named are guessed from their words.
    #[serde(default)]
    pub columns: BTreeMap<String, String>,
    /// Keys that a fit searches unless it is told others; without them, those that the logs can tell.
    #[serde(default)]
    pub fit: Vec<String>,
}
