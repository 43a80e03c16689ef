//! To come with the sizing tools: regression.
