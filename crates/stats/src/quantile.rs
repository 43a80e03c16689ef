//! To come with the sizing tools: quantile.
