//! Files of appliances and of cylinders.

use super::*;

#[test]
fn appliances_are_read_with_facts_and_unknown_charges() {
    let folder = Folder::new();
    let text = "appliance,site,category,refrigerant,full_charge,commissioned_on,\
                full_charge_method,zone,region,place,serial,owner,machine,hermetic,motor_kw\n\
                HG-RACK-A,HG-ALDER,commercial_refrigeration,R-448A,210 lb,2019-05-20,calculation,\
                America/Denver,US-CO,\"machine room, north wall\",00123,Halfmoon Grocers,HG-RACK,\
                no,7.5\n\
                PINE-AHU-2,PINE,comfort_cooling,R-454B,unknown,2023-02-01,,America/Phoenix,,,,,,,\n";
    let (mut problems, mut tags) = (Problems::default(), Vec::new());
    read_appliances(&folder.file(text.as_bytes()), &mut problems, |row, _, _| {
        tags.push(row.tag.to_string());
        if row.tag == "HG-RACK-A" {
            // 210 lb x 453.59237 g (NIST SP 811 appendix B).
            assert_eq!(
                row.full_charge.as_ref().unwrap().mass.to_string(),
                "95254.3977"
            );
            assert_eq!(row.place, Some("machine room, north wall"));
            assert_eq!(row.facts.len(), 2);
        } else {
            assert_eq!(
                (&row.full_charge, row.zone),
                (&None, Some("America/Phoenix"))
            );
        }
        Flow::Go
    });
    assert_eq!(problems.to_string(), "");
    assert_eq!(tags, ["HG-RACK-A", "PINE-AHU-2"]);
}

#[test]
fn bad_appliances_and_cylinders_are_named() {
    let folder = Folder::new();
    let head = "appliance,site,category,refrigerant,full_charge_kg,commissioned_on,\
                full_charge_method,zone,region,detector";
    for (row, column) in [
        ("A,S,comfort,R-22,1,2020-01-01,,,,", "category"),
        ("A,S,other,R-22,1,01.02.2020,,,,", "commissioned_on"),
        ("A,S,other,R-22,1 kg,2020-01-01,,,,", "full_charge_kg"),
        ("A,S,other,R-22,1,2020-01-01,range,,,", "full_charge_method"),
        (
            "A,S,other,R-22,,2020-01-01,calculation,,,",
            "full_charge_method",
        ),
        ("A,S,other,R-22,1,2020-01-01,,Denver,,", "zone"),
        ("A,S,other,R-22,1,2020-01-01,,,Colorado,", "region"),
        ("A,S,other,R-22,1,2020-01-01,,,,maybe", "detector"),
        (",S,other,R-22,1,2020-01-01,,,,", "appliance"),
        ("A,,other,R-22,1,2020-01-01,,,,", "site"),
    ] {
        let mut problems = Problems::default();
        let path = folder.file(format!("{head}\n{row}\n").as_bytes());
        read_appliances(&path, &mut problems, |_, _, _| Flow::Go);
        assert_eq!(problems.count(), 1, "{row}: {problems}");
        assert!(
            problems
                .to_string()
                .contains(&format!("row 2, column {column}:")),
            "{problems}"
        );
    }
    let head = "cylinder,refrigerant,use,capacity_lb,tare_lb,retest_on";
    for (row, column) in [
        ("C,R-22,spare,30,,", "use"),
        ("C,,supply,30,,", "refrigerant"),
        ("C,R-22,supply,,,", "capacity_lb"),
        ("C,R-22,supply,30,x,", "tare_lb"),
        ("C,R-22,supply,30,,2027-05", "retest_on"),
    ] {
        let mut problems = Problems::default();
        let path = folder
            .file(format!("{head}\n{row}\nTR-0417,,recovery,38.2,27.6,2027-05-31\n").as_bytes());
        let mut good = 0;
        read_cylinders(&path, &mut problems, |_, _, _| {
            good += 1;
            Flow::Go
        });
        assert_eq!((problems.count(), good), (1, 1), "{row}: {problems}");
        assert!(
            problems
                .to_string()
                .contains(&format!("row 2, column {column}:")),
            "{problems}"
        );
    }
}
