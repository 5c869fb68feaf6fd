//! The local page: try a treatment and watch the bay change.
//!
//! A third skin over the same library calls as the command line. [`router`] turns a request into a
//! reply without a socket; [`server`] is the socket around it. No request reaches the file system:
//! what is worked on comes in the request itself.

mod asked;
mod assets;
mod drawing;
mod hot_day;
mod jobs;
mod lists;
mod logs;
pub mod router;
pub mod server;
mod studies;

pub use jobs::{Sink, Work};
pub use router::{Opened, Page, Reply, Request, Response};
