//! To come with the sizing tools: bootstrap.
