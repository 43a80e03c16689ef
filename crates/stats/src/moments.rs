//! To come with the sizing tools: moments.
