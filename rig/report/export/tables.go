package export

import (
	"strconv"
	"strings"

	"quern/config"
)

// Tables lists all tables in the order in which they are written.
func Tables() []Table {
	return []Table{
		sessionsTable, runsTable, statesTable, eventsTable, spectrumTable, harmonicsTable, extrasTable, warningsTable, gapsTable,
		weighingsTable, checksTable, correctionsTable, remarksTable, handTable,
		measuresTable, tracesTable, gatesTable, pointsTable, criteriaTable, testsTable, unitsTable,
		curvesTable, settingsTable, leftOutTable, aboutTable, columnsTable(),
		levelTable, currentTable, massTable, extraTable, bandsTable,
	}
}

// columnsTable describes all the others. It is made by a function, for it is one of the tables that it lists.
func columnsTable() Table {
	t := Table{Name: "columns", What: "what every column of every table is", Columns: []Column{
		isKey(word("table", "name of the table, and of its file")), isKey(word("column", "name of the column")), count("position", "from 1"), word("type", "text, number, whole number, true or false, instant, m:ss.s"),
		word("unit_word", "its unit"), yesno("key", "the keys of a row together name it"), word("what", "its meaning"), word("what_table", "what a row of the table is"),
	}}
	t.rows = func(in *input, emit func([]Cell) error) error {
		for _, x := range Tables() {
			x, _ = x.withMass(in.Mass)
			for i, k := range x.Columns {
				if err := emit([]Cell{text(x.Name), text(k.Name), whole(i + 1), text(k.Type.String()), text(k.Unit), yes(k.Key), text(k.What), text(x.What)}); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

var aboutTable = Table{Name: "about", What: "what the export was made of", Columns: []Column{
	isKey(word("name", "what is told")), isKey(count("number", "of several of one name, from 1")), word("value", "as a text"),
}, rows: func(in *input, emit func([]Cell) error) error {
	card := in.Campaign.Lab.Scorecard
	for _, x := range [][2]string{{"format", strconv.Itoa(Format)}, {"names_released_by", in.Day}, {"scorecard_title", card.Title}, {"scorecard_version", card.Version},
		{"rules_sha256", in.Campaign.Lab.RulesSum()}, {"facts_sha256", in.Campaign.FactsSum()}} {
		if err := emit([]Cell{text(x[0]), whole(1), text(x[1])}); err != nil {
			return err
		}
	}
	for i, s := range in.Sums {
		if err := emit([]Cell{text("made_of"), whole(i + 1), text(s)}); err != nil {
			return err
		}
	}
	return nil
}}

var leftOutTable = Table{Name: "left_out", What: "a session that no run could be made of", Columns: []Column{
	isKey(word("session", "name of the session, or of its folder")), word("why", "the reason"),
}, rows: func(in *input, emit func([]Cell) error) error {
	for _, l := range in.Campaign.Loose {
		if err := emit([]Cell{text(l.Session), text(l.Why)}); err != nil {
			return err
		}
	}
	return nil
}}

var settingsTable = Table{Name: "settings", What: "a setting under which a session was analysed; those that no analysis looks at stand at their defaults", Columns: []Column{
	sessionColumn, isKey(word("key", "its name, tables joined by dots")), word("value", "as settings.toml has it"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachFull(func(f full) error {
		table := ""
		for l := range strings.Lines(f.settings) {
			l = strings.TrimSpace(l)
			if strings.HasPrefix(l, "[") {
				table = strings.Trim(l, "[]") + "."
			} else if key, value, ok := strings.Cut(l, " = "); ok {
				if err := emit([]Cell{text(f.rec.Session), text(table + key), text(value)}); err != nil {
					return err
				}
			}
		}
		return nil
	})
}}

var curvesTable = Table{Name: "curves", What: "a given point of a criterion's curve: rules of the scorecard", Columns: []Column{
	isKey(word("criterion", "id of the criterion")), isKey(count("point", "number of the point, from 1; absent: the measure is its own points")), word("test", "where the criterion belongs"), word("category", "where the test belongs"),
	word("measure", "what is judged"), num("weight", "", 6, "of the criterion in its test, as it is written"), num("test_weight", "", 6, "of the test in its category"), num("category_weight", "", 6, "of the category in the whole"),
	word("shape", "between points: linear, or monotone"), word("outside", "beyond the ends: flat, or refuse"), num("at", "", 6, "the measure, in its unit"), num("points", "", 6, "what it earns, 0 to 10"),
	num("failed_points", "", 6, "what the test is worth that failed a gate"), yesno("gated", "a failed gate fails the test"), word("points_of", "run: the mean of the points of the runs; mean: the points of their mean"),
}, rows: func(in *input, emit func([]Cell) error) error {
	card := in.Campaign.Lab.Scorecard
	for _, k := range card.Criteria {
		var test config.Test
		for _, t := range card.Tests {
			if t.ID == k.Test {
				test = t
			}
		}
		category := Cell{}
		for _, c := range card.Categories {
			if c.ID == test.Category {
				category = number(c.Weight)
			}
		}
		row := func(n int, at, points Cell) error {
			return emit([]Cell{text(k.ID), counted(n), text(k.Test), text(test.Category), text(k.Measure), number(k.Weight), number(test.Weight), category,
				text(k.Shape), text(k.Outside), at, points, number(test.FailedPoints), yes(test.Gated), text(card.PointsOf)})
		}
		if len(k.Curve) == 0 {
			if err := row(0, Cell{}, Cell{}); err != nil {
				return err
			}
		}
		for i, a := range k.Curve {
			if err := row(i+1, number(a.At), number(a.Points)); err != nil {
				return err
			}
		}
	}
	return nil
}}
