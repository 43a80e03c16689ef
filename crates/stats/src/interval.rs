//! To come with the sizing tools: interval.
