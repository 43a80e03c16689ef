//! The names on the demo template: landmarks, regions, paths, joints. They hold at every vertex count.
//!
//! Names that end in `_left` or `_right` come in pairs; the person's left is +x.

/// Landmarks of the mid-plane: name and where it is.
pub const MID_LANDMARKS: &[(&str, &str)] = &[
    ("crown", "highest point of the head"),
    ("glabella", "most forward point of the brow"),
    ("nose_tip", "most forward point of the nose"),
    ("chin", "lowest point of the chin"),
    ("head_back", "most backward point of the head"),
    ("larynx", "front of the neck at the level of the neck girth"),
    ("neck_front", "front neck point: the notch above the breastbone"),
    ("c7", "back neck point: the seventh cervical vertebra"),
    ("sternum", "front, at the level of the bust points"),
    ("underbust_front", "front, just below the chest tissue"),
    ("chest_back", "back, at the level of the bust points"),
    ("navel", "the navel"),
    ("waist_front", "front, midway between the lowest rib and the iliac crest"),
    ("waist_back", "back, midway between the lowest rib and the iliac crest"),
    ("abdomen_front", "most forward point of the belly between waist and hip"),
    ("hip_front", "front, at the hip level (greatest prominence of the buttocks)"),
    ("hip_back", "back, at the hip level (in the cleft)"),
    ("sacrum", "back, at the level of the iliac crest"),
    ("crotch", "lowest point of the trunk between the legs"),
];

/// Landmarks that come in pairs: the name without its side, and where it is.
pub const PAIRED_LANDMARKS: &[(&str, &str)] = &[
    ("tragion", "front of the ear"),
    ("eye", "middle of the eye"),
    ("neck_side", "side neck point: where the neck meets the trapezius"),
    ("acromion", "outermost point of the bony shoulder"),
    ("deltoid", "outermost point of the upper arm below the shoulder"),
    ("axilla_front", "upper end of the front fold of the armpit"),
    ("axilla_back", "upper end of the back fold of the armpit"),
    ("bust_point", "most forward point of the chest tissue"),
    ("rib_lowest", "side, at the lowest rib"),
    ("waist_side", "side, midway between the lowest rib and the iliac crest"),
    ("iliac_crest", "side, at the top of the hip bone"),
    ("iliac_spine", "front upper spine of the hip bone"),
    ("trochanter", "side, outermost point of the hip"),
    ("buttock", "most backward point of the buttock"),
    ("gluteal_fold", "back of the leg, where the buttock ends"),
    ("thigh_front", "front of the thigh, midway between hip joint and knee"),
    ("mid_patella", "front of the knee, mid-patella"),
    ("knee_back", "back of the knee at the level of the mid-patella"),
    ("knee_lateral", "outer side of the knee"),
    ("knee_medial", "inner side of the knee"),
    ("calf_back", "most backward point of the calf"),
    ("malleolus_lateral", "outer ankle bone"),
    ("malleolus_medial", "inner ankle bone"),
    ("heel", "most backward point of the foot"),
    ("toe", "most forward point of the foot"),
    ("ball_medial", "inner side of the ball of the foot"),
    ("ball_lateral", "outer side of the ball of the foot"),
    ("biceps", "front of the upper arm, midway between shoulder and elbow"),
    ("elbow", "tip of the elbow, at the back"),
    ("elbow_lateral", "outer side of the elbow (radiale)"),
    ("forearm", "outer side of the forearm where it is thickest"),
    ("wrist", "thumb side of the wrist (stylion)"),
    ("wrist_ulnar", "little-finger side of the wrist"),
    ("knuckle", "knuckle of the middle finger"),
];

/// Paths without a side: a name and the landmarks it runs over, in order.
pub(crate) const PATHS: &[(&str, &[&str])] = &[
    ("back_neck_to_waist", &["c7", "chest_back", "waist_back"]),
    ("front_neck_to_waist", &["neck_front", "sternum", "waist_front"]),
    ("back_shoulder_width", &["acromion_left", "c7", "acromion_right"]),
    ("across_back", &["axilla_back_left", "axilla_back_right"]),
    ("across_front", &["axilla_front_left", "axilla_front_right"]),
    ("crotch_length", &["waist_front", "navel", "hip_front", "crotch", "hip_back", "waist_back"]),
    ("neck_base", &["c7", "neck_side_left", "neck_front", "neck_side_right", "c7"]),
];

/// Paths that come in pairs: the name without its side and the landmarks it runs over; `*` stands for the side.
pub(crate) const PAIRED_PATHS: &[(&str, &[&str])] = &[
    ("arm_length", &["acromion*", "elbow_lateral*", "wrist*"]),
    ("shoulder_length", &["neck_side*", "acromion*"]),
    ("upper_arm_length", &["acromion*", "elbow_lateral*"]),
    ("forearm_length", &["elbow_lateral*", "wrist*"]),
    ("outside_leg", &["waist_side*", "trochanter*", "knee_lateral*", "malleolus_lateral*"]),
    ("neck_to_bust_point", &["neck_side*", "bust_point*"]),
];

/// Joints in order, parents before children: name and parent.
pub const JOINTS: &[(&str, Option<&str>)] = &[
    ("pelvis", None),
    ("spine_lower", Some("pelvis")),
    ("spine_upper", Some("spine_lower")),
    ("neck", Some("spine_upper")),
    ("head", Some("neck")),
    ("clavicle_left", Some("spine_upper")),
    ("shoulder_left", Some("clavicle_left")),
    ("elbow_left", Some("shoulder_left")),
    ("wrist_left", Some("elbow_left")),
    ("clavicle_right", Some("spine_upper")),
    ("shoulder_right", Some("clavicle_right")),
    ("elbow_right", Some("shoulder_right")),
    ("wrist_right", Some("elbow_right")),
    ("hip_left", Some("pelvis")),
    ("knee_left", Some("hip_left")),
    ("ankle_left", Some("knee_left")),
    ("toe_left", Some("ankle_left")),
    ("hip_right", Some("pelvis")),
    ("knee_right", Some("hip_right")),
    ("ankle_right", Some("knee_right")),
    ("toe_right", Some("ankle_right")),
];
