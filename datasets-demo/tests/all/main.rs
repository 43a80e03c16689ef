//! The demo people: what is written, what they are like, and their template.

mod files;
mod people;
mod template;
