//! Types of dimensions, by which their errors are limited.

use serde::{Deserialize, Serialize};

/// Types of dimensions, by which ISO 20685-1 limits the mean error of a scan against a skilled measurer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LimitType {
    /// Lengths of segments, and lengths over the skin.
    SegmentLength,
    /// Heights of the body.
    Height,
    /// Girths of the trunk, such as the chest.
    LargeGirth,
    /// Girths of neck and limbs.
    SmallGirth,
    /// Breadths of the body.
    Breadth,
    /// Depths of the body.
    Depth,
    /// Dimensions of the head where hair is in the way.
    HeadWithHair,
    /// Dimensions of head and face where no hair is in the way.
    HeadWithoutHair,
    /// Dimensions of the hand.
    Hand,
    /// Dimensions of the foot.
    Foot,
}
