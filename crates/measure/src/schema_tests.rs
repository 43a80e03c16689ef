use crate::doll::doll;
use crate::{Dimensions, Kind};

fn fault(body: &str) -> String {
    Dimensions::from_toml(&format!("[[dimension]]\nname = \"chest\"\n{body}")).unwrap_err().to_string()
}

#[test]
fn every_fault_names_its_dimension() {
    for (body, words) in [
        ("kind = \"grith\"\nat = \"x\"", "did you mean `girth`"),
        ("kind = \"girth\"\nat = \"x\"\nregoin = \"y\"", "did you mean `region`"),
        ("kind = \"height\"\nat = \"x\"\nregion = \"y\"", "no key `region`"),
        ("kind = \"height\"", "needs `at`"),
        ("kind = \"girth\"", "needs a level"),
        ("kind = \"girth\"\nat = \"x\"\nbetween = [\"a\", \"b\"]", "both `at` and `between`"),
        ("kind = \"girth\"\nbetween = [\"a\", \"b\"]", "`fraction`, or `search`"),
        ("kind = \"girth\"\nbetween = [\"a\"]\nfraction = 0.5", "two places, and has 1"),
        ("kind = \"girth\"\nbetween = [\"a\", \"b\"]\nsearch = \"biggest\"", "biggest"),
        ("kind = \"girth\"\nbetween = [\"a\", \"b\"]\nsearch = \"least\"\nstep_mm = 5.0", "0.05 to 2"),
        ("kind = \"girth\"\nat = \"x\"\noffset_mm = nan", "finite"),
        ("kind = \"girth\"\nat = 5", "a place must be the name"),
        ("kind = \"height\"\nat = { furthest = \"sideways\" }", "a place must be the name"),
        ("kind = \"height\"\nat = []", "empty"),
        ("kind = \"height\"\nat = \"x\"\nunit = \"kg\"", "there are mm, cm, m"),
        ("kind = \"path\"", "needs `through`"),
        ("kind = \"path\"\nthrough = [\"a\"]", "two places at least"),
        ("kind = \"path\"\nthrough = [\"a\", [\"b\", \"c\"]]", "over the surface"),
        ("kind = \"path\"\nthrough = [\"a\", \"b\"]\npath = \"c\"", "both `through` and `path`"),
        ("kind = \"derived\"\nformula = \"hip * 2\"\nunit = \"1\"", "not defined before"),
        ("kind = \"derived\"\nformula = \"2\"\nunit = \"1\"", "no dimension"),
        ("kind = \"derived\"\nformula = \"2 +\"\nunit = \"1\"", "it ends"),
        ("kind = \"breadth\"\nwithout = \"arms\"", "level"),
        ("kind = \"height\"\nat = \"x\"\nedition = \"2017\"", "need a `standard`"),
        ("kind = 3", "kind"),
        ("unit = \"mm\"", "kind"),
    ] {
        let e = fault(body);
        assert!(e.contains("`chest`") && e.contains(words), "{body}\n-> {e}");
    }
    let twice = "[[dimension]]\nname = \"a\"\nkind = \"volume\"\n";
    assert!(Dimensions::from_toml(&twice.repeat(2)).unwrap_err().to_string().contains("already taken"));
    let e = Dimensions::from_toml("[[dimension]]\nname = \"A b\"\nkind = \"volume\"\n").unwrap_err();
    assert!(e.to_string().contains("small letter"));
    assert!(Dimensions::from_toml("").unwrap_err().to_string().contains("no [[dimension]]"));
    assert!(
        Dimensions::from_toml("[[dimensions]]\nname = \"a\"").unwrap_err().to_string().contains("dimensions")
    );
    assert!(Dimensions::from_toml("a = = 3").is_err());
    let e = Dimensions::from_toml("[[dimension]]\nkind = \"volume\"\n").unwrap_err().to_string();
    assert!(e.contains("number 1") && e.contains("name"), "{e}");
    let unitless = "[[dimension]]\nname = \"a\"\nkind = \"volume\"\n[[dimension]]\nname = \"b\"\nkind = \"derived\"\nformula = \"a\"\n";
    assert!(Dimensions::from_toml(unitless).unwrap_err().to_string().contains("needs a `unit`"));
}

#[test]
fn names_that_the_template_lacks_are_refused_with_names_near() {
    let template = doll();
    for (body, words) in [
        ("kind = \"height\"\nat = \"waist_frnt\"", "no landmark `waist_frnt`; did you mean `waist_front`"),
        (
            "kind = \"girth\"\nat = \"waist_front\"\nregion = \"tosro\"",
            "no region `tosro`; did you mean `torso`",
        ),
        ("kind = \"girth\"\nat = \"waist_front\"\nwithout = [\"torso\", \"arms_left\"]", "`arm_left`"),
        ("kind = \"girth\"\nat = \"waist_front\"\naround = \"joint:arm\"", "no joint `arm`"),
        ("kind = \"path\"\npath = \"down_front\"", "no path `down_front`; there are `down_the_front`"),
        ("kind = \"height\"\nat = { furthest = \"up\", region = \"leg\" }", "no region `leg`"),
        ("kind = \"area\"\nregion = \"legs_left\"", "`leg_left`"),
        ("kind = \"angle\"\nat = \"knee_left\"\nbetween = [\"knee_right\", \"hip_frond\"]", "`hip_front`"),
    ] {
        let dims = Dimensions::from_toml(&format!("[[dimension]]\nname = \"chest\"\n{body}")).unwrap();
        let e = dims.check(&template).unwrap_err().to_string();
        assert!(e.contains("dimension `chest`") && e.contains(words), "{body}\n-> {e}");
        // taken all the same it is missing, not a panic
        let m = &dims.take(&template, template.mesh.positions())[0];
        assert!(m.value.is_none() && m.reason_missing.is_some(), "{body}");
    }
    let frame =
        "[frame]\nleft = \"arm\"\nright = \"knee_right\"\n[[dimension]]\nname = \"v\"\nkind = \"volume\"";
    assert!(
        Dimensions::from_toml(frame).unwrap().check(&template).unwrap_err().to_string().contains("[frame]")
    );
}

#[test]
fn standards_notes_and_units_are_kept() {
    let file = r#"
[[dimension]]
name = "hip_girth"
kind = "girth"
at = "hip_front"
unit = "cm"
standard = "ISO 8559-1"
edition = "2017"
item = "hip girth"
definition = "Around the hips."
note = "Over thin clothes."
"#;
    let d = &Dimensions::from_toml(file).unwrap().definitions[0];
    assert_eq!(d.header(), "hip_girth_cm");
    let s = d.standard.as_ref().unwrap();
    assert_eq!(
        (s.standard.as_str(), s.edition.as_deref(), s.item.as_deref()),
        ("ISO 8559-1", Some("2017"), Some("hip girth"))
    );
    assert!(matches!(d.kind, Kind::Girth { .. }) && d.note.contains("thin"));
    let all = Dimensions::from_toml(crate::doll::FILE).unwrap();
    let json = serde_json::to_string(&all).unwrap();
    assert_eq!(serde_json::from_str::<Dimensions>(&json).unwrap(), all);
}

proptest::proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC*", body in "[a-z_ =\\[\\]{}\",.0-9\n]*") {
        let _ = Dimensions::from_toml(&text);
        let _ = Dimensions::from_toml(&format!("[[dimension]]\nname = \"a\"\nkind = \"girth\"\n{body}"));
        let _ = crate::expression::Expression::parse(&text).map(|e| e.evaluate(|_| Ok(1.0)));
        let _ = formkin_table::Table::parse_csv(&text, "t", None);
        let _ = formkin_table::Table::parse_csv(&format!("id,x_mm\n{body}"), "t", None);
    }
}
