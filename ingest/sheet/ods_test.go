package sheet

import (
	"reflect"
	"testing"
)

func TestOds(t *testing.T) {
	data := ods(t, `<style:style style:name="ta1" style:family="table"><style:table-properties table:display="false"/></style:style>
		<number:date-style style:name="N1"><number:day number:style="long"/><number:text>/</number:text><number:month number:style="long"/><number:text>/</number:text><number:year number:style="long"/></number:date-style>
		<number:date-style style:name="N4"><number:day/><number:text> </number:text><number:month number:textual="true"/></number:date-style>
		<number:number-style style:name="N2"><number:number number:decimal-places="2"/><number:text> kg</number:text></number:number-style>
		<number:percentage-style style:name="N3"><number:number number:decimal-places="0"/><number:text>%</number:text></number:percentage-style>
		<style:style style:name="base" style:family="table-cell"><style:text-properties style:text-line-through-style="solid"/></style:style>
		<style:style style:name="ce1" style:family="table-cell" style:data-style-name="N1"/>
		<style:style style:name="ce2" style:family="table-cell" style:parent-style-name="base" style:data-style-name="N2"/>
		<style:style style:name="ce3" style:family="table-cell" style:data-style-name="N3"/>
		<style:style style:name="ce4" style:family="table-cell" style:data-style-name="N4"/>
		<style:style style:name="T1" style:family="text"><style:text-properties style:text-line-through-style="solid"/></style:style>`,
		`<table:tracked-changes><table:deletion><table:table><table:table-row><table:table-cell><text:p>old</text:p></table:table-cell></table:table-row></table:table></table:deletion></table:tracked-changes>
		<table:table table:name="Weights &amp; more">
		<table:table-column table:number-columns-repeated="2" table:default-cell-style-name="ce4"/><table:table-column table:visibility="collapse"/><table:table-column table:number-columns-repeated="16381"/>
		<table:table-header-rows><table:table-row><table:table-cell office:value-type="string" table:number-columns-spanned="3"><text:p>Weigh<text:span>ings</text:span><text:s text:c="2"/>of <text:tab/>2025</text:p><text:p>Low Barn</text:p></table:table-cell><table:covered-table-cell table:number-columns-repeated="2"/><table:table-cell><draw:frame><text:p>drawn</text:p></draw:frame></table:table-cell></table:table-row></table:table-header-rows>
		<table:table-row table:number-rows-repeated="3"><table:table-cell table:number-columns-repeated="1024"/></table:table-row>
		<table:table-row-group><table:table-row table:visibility="filter">
			<table:table-cell table:style-name="ce1" office:value-type="date" office:date-value="2025-03-01T00:00:00"><office:annotation><dc:creator>Jo</dc:creator><text:p>wet</text:p><text:p>late</text:p></office:annotation><text:p>01/03/2025</text:p></table:table-cell>
			<table:table-cell office:value-type="date" office:date-value="2025-12-01"><text:p>1 Dec</text:p></table:table-cell>
			<table:table-cell table:style-name="ce2" office:value-type="float" office:value="0.965"><text:p>0.97 kg</text:p></table:table-cell>
			<table:table-cell table:style-name="ce3" office:value-type="percentage" office:value="0.5"><text:p>50%</text:p></table:table-cell>
			<table:table-cell office:value-type="boolean" office:boolean-value="true"><text:p>TRUE</text:p></table:table-cell>
			<table:table-cell office:value-type="time" office:time-value="PT12H00M00S"><text:p>12:00</text:p></table:table-cell>
			<table:table-cell table:formula="of:=[.A1]" office:value-type="float" office:value="7"><text:p>7</text:p></table:table-cell>
			<table:table-cell table:formula="of:=1/0" office:value-type="string" office:string-value="" calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>
			<table:table-cell table:formula="of:=[.A2]"/>
			<table:table-cell table:number-columns-repeated="2" office:value-type="string"><text:p>+</text:p></table:table-cell>
			<table:table-cell office:value-type="string"><text:p><text:span text:style-name="T1">R12</text:span></text:p></table:table-cell>
			<table:table-cell office:value-type="string"><text:p><text:span text:style-name="T1">R12</text:span> R13</text:p></table:table-cell>
			<table:table-cell table:formula="of:=&quot;&quot;" office:value-type="string" office:string-value=""/>
			<table:table-cell table:formula="of:=TRUE()" office:value-type="float" office:value="1"><text:p>1</text:p></table:table-cell>
			<table:table-cell table:formula="of:=FALSE()" office:value-type="float" office:value="0"><text:p>0</text:p></table:table-cell>
		</table:table-row></table:table-row-group>
		<table:table-row table:number-rows-repeated="2"><table:table-cell office:value-type="float" office:value="5"/></table:table-row>
		<table:table-row table:number-rows-repeated="1048569"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>
		</table:table>
		<table:table table:name="old" table:style-name="ta1"><table:table-row><table:table-cell office:value-type="string"><text:p>x</text:p></table:table-cell></table:table-row></table:table>`)
	b := mustOpen(t, "a.ods", data)
	if len(b.Grids) != 2 || b.Grids[0].Sheet != "Weights & more" || b.Grids[0].Hidden || !b.Grids[1].Hidden {
		t.Fatalf("%+v", b.Grids)
	}
	g := b.Grids[0]
	checkCells(t, g, map[string]Cell{
		"A1": {Raw: "Weighings  of \t2025\nLow Barn", Kind: Text, Format: "d mmm"},
		"D1": {},
		"A5": {Raw: "2025-03-01", Kind: Date, Format: "dd/mm/yyyy", Comment: "wet\nlate"},
		"B5": {Raw: "2025-12-01", Kind: Date, Format: "d mmm"},
		"C5": {Raw: "0.965", Kind: Number, Format: `0.00" kg"`, Struck: true},
		"D5": {Raw: "0.5", Kind: Percent, Format: "0%"},
		"E5": {Raw: "1", Kind: Bool},
		"F5": {Raw: "0.5", Kind: Date},
		"G5": {Raw: "7", Kind: Number, Formula: true},
		"H5": {Raw: "#DIV/0!", Kind: Error, Formula: true},
		"I5": {Formula: true},
		"J5": {Raw: "+", Kind: Text},
		"K5": {Raw: "+", Kind: Text},
		"L5": {Raw: "R12", Kind: Text, Struck: true},
		"M5": {Raw: "R12 R13", Kind: Text},
		"N5": {Kind: Text, Formula: true},
		"O5": {Raw: "1", Kind: Bool},
		"P5": {Raw: "0", Kind: Bool},
		"A6": {Raw: "5", Kind: Number, Format: "d mmm"},
		"A7": {Raw: "5", Kind: Number, Format: "d mmm"},
	})
	if len(g.Rows) != 4 || g.Rows[1].N != 5 || !g.Rows[1].Hidden || g.Rows[0].Hidden {
		t.Errorf("rows %+v", g.Rows)
	}
	if !reflect.DeepEqual(g.HiddenCols, []int32{3}) || !reflect.DeepEqual(g.Merged, []Span{{1, 1, 1, 3}}) {
		t.Errorf("hidden columns %v, merged %v", g.HiddenCols, g.Merged)
	}
}

func TestDamagedOds(t *testing.T) {
	for name, tables := range map[string]string{
		"a count of zero":      `<table:table table:name="A"><table:table-row table:number-rows-repeated="0"/></table:table>`,
		"an absurd column":     `<table:table table:name="A"><table:table-row><table:table-cell table:number-columns-repeated="16384"/><table:table-cell office:value-type="float" office:value="1"/></table:table-row></table:table>`,
		"an absurd row":        `<table:table table:name="A"><table:table-row table:number-rows-repeated="1048576"/><table:table-row><table:table-cell office:value-type="float" office:value="1"/></table:table-row></table:table>`,
		"an unclosed table":    `<table:table table:name="A">`,
		"overlapping merges":   `<table:table table:name="A"><table:table-row><table:table-cell table:number-columns-spanned="2" table:number-rows-spanned="2"/></table:table-row><table:table-row><table:table-cell table:number-columns-spanned="2"/><table:table-cell office:value-type="float" office:value="1"/></table:table-row></table:table>`,
		"a malformed repeated": `<table:table table:name="A"><table:table-row><table:table-cell table:number-columns-repeated="-1"/></table:table-row></table:table>`,
	} {
		t.Run(name, func(t *testing.T) { refused(t, "a.ods", ods(t, "", tables), DamagedXML) })
	}
	refused(t, "a.ods", ods(t, "", ""), MissingPart)
	refused(t, "a.ods", zipped(t, part{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"}), MissingPart)
	refused(t, "a.ods", zipped(t, part{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"}, part{"content.xml", `<!DOCTYPE x><x/>`}), XMLEntity)
}

// Durations by hand: 36 hours are a day and a half, 90 minutes a sixteenth.
func TestClock(t *testing.T) {
	for in, want := range map[string]float64{"PT12H00M00S": 0.5, "PT36H": 1.5, "PT90M": 0.0625, "-PT6H": -0.25, "PT00H00M43,2S": 0.0005} {
		if got, ok := clock(in); !ok || got-want > 1e-12 || want-got > 1e-12 {
			t.Errorf("%s: %v, %v; want %v", in, got, ok, want)
		}
	}
	for _, in := range []string{"", "12:00", "PTxH", "PT1H2", "P1D"} {
		if got, ok := clock(in); ok && in != "" {
			t.Errorf("%q passes as %v", in, got)
		}
	}
}
