use super::*;

fn parse(text: &str) -> Result<Table, TableError> {
    Table::parse_csv(text, "crew.csv", None)
}

fn fault(text: &str) -> String {
    parse(text).unwrap_err().to_string()
}

#[test]
fn units_come_from_headers_and_blank_cells_are_missing() {
    let t = parse("crew,chest_girth_mm,age_years,station,code_m\nA,1000.5,31,North,x\nB,,40,,y\n").unwrap();
    assert_eq!((t.id.as_str(), t.rows()), ("crew", 2));
    assert_eq!(t.number("chest_girth").unwrap().values, vec![Some(1000.5), None]);
    assert_eq!(t.number("chest_girth_mm").unwrap().unit.as_deref(), Some("mm"));
    assert_eq!(t.number("age").unwrap().unit.as_deref(), Some("years"));
    assert_eq!(t.text("station").unwrap(), ["North", ""]);
    assert_eq!(t.text("code_m").unwrap(), ["x", "y"]);
    assert_eq!(t.text("age").unwrap(), ["31", "40"]);
}

#[test]
fn a_table_survives_writing_and_reading() {
    let t = parse("id,name,x_mm,y\n1,\"a, \"\"b\"\"\",0.1,\n2,,1e-7,-3\n").unwrap();
    assert_eq!(parse(&t.to_csv().unwrap()).unwrap(), t);
    let bom = Table::read_csv("\u{feff}id,x_mm\r\nA,1\r\n".as_bytes(), "t", None).unwrap();
    assert_eq!(bom.id, "id");
}

#[test]
fn another_column_may_hold_the_identifiers() {
    let t = Table::parse_csv("x_mm,who\n1,A\n2,B\n", "t", Some("who")).unwrap();
    assert_eq!(t.ids, ["A", "B"]);
    assert!(
        Table::parse_csv("x_mm,who\n1,A\n", "t", Some("whom")).unwrap_err().to_string().contains("`who`")
    );
}

#[test]
fn faults_name_line_and_column() {
    assert!(fault("id,x_mm\nA,1\nB,1,2\n").contains("line 3: 3 cells, but the header has 2"));
    let e = fault("id,x_mm\nA,1\nB,oak\n");
    assert!(e.contains("crew.csv, line 3, column `x_mm`: `oak` is not a finite number"), "{e}");
    assert!(fault("id,x\nA,1\nB,2\nC,3o\n").contains("line 4, column `x`"));
    assert!(fault("id,x_mm\nA,\"1,5\"\n").contains("decimals with a point"));
    for bad in ["nan", "inf", "-inf", "1e999", "NA"] {
        assert!(fault(&format!("id,x_mm\nA,1\nB,{bad}\n")).contains("line 3, column `x_mm`"), "{bad}");
    }
    assert!(fault("id,x_mm\nA,1\nA,2\n").contains("`A` is already on line 2"));
    assert!(fault("id,x_mm\n,1\n").contains("missing"));
    assert!(fault("id;x_mm\nA;1\n").contains("commas"));
    assert!(fault("id,x_mm,x_mm\nA,1,1\n").contains("two columns"));
    assert!(fault("id,x_mm,x_cm\nA,1,1\n").contains("same name"));
    assert!(fault("id,,x\nA,1,1\n").contains("column 2 has no header"));
    assert!(fault("").contains("empty") && fault("id,x\n").contains("no rows"));
    assert!(Table::read_csv(&b"id,x\n\xff,1\n"[..], "t", None).unwrap_err().to_string().contains("UTF-8"));
    let t = parse("id,chest_mm,word\nA,1,hello\n").unwrap();
    assert!(t.number("chets").unwrap_err().to_string().contains("`chest`"));
    assert!(t.number("word").unwrap_err().to_string().contains("hello"));
    assert!(t.text("wrod").unwrap_err().to_string().contains("`word`"));
}

#[test]
fn numbered_sessions_and_people_are_names() {
    let csv = "item,participant,session,frame,stature_mm\na,1,1,1,1700\nb,2,1,2,1800\n";
    let table = Table::parse_csv(csv, "t.csv", None).unwrap();
    assert_eq!(table.texts.iter().map(|c| c.name.as_str()).collect::<Vec<_>>(), ["participant", "session"]);
}
