using System.IO.Compression;
using System.Security;

namespace Registry.Tests.Intake.Formats.Workbooks;

/// <summary>Workbooks written part by part (ECMA-376), so that a test can say exactly what is in them.</summary>
internal static class TestWorkbook
{
    private const string Main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    private const string Relations = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";

    /// <param name="rows">The rows of the sheet, as XML; of the second sheet on with the sheet's name in the first cell.</param>
    /// <param name="texts">The shared texts.</param>
    /// <param name="formats">Number formats: style 1 is the first.</param>
    /// <param name="sheets">Names and states.</param>
    /// <param name="from1904">Dates count from 1904.</param>
    /// <param name="prolog">Before the sheet's element.</param>
    public static byte[] Of(string rows, string[] texts, string[] formats, (string Name, string? State)[]? sheets = null,
        bool from1904 = false, string prolog = "")
    {
        sheets ??= [("Sheet", null)];
        using var bytes = new MemoryStream();
        using (var zip = new ZipArchive(bytes, ZipArchiveMode.Create, leaveOpen: true))
        {
            void Add(string name, string xml)
            {
                using var writer = new StreamWriter(zip.CreateEntry(name).Open());
                writer.Write("<?xml version=\"1.0\" encoding=\"UTF-8\"?>" + xml);
            }

            Add("[Content_Types].xml", $"""
                <Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>
                <Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>
                <Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/>
                <Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/>
                {string.Concat(sheets.Select((_, i) => $"""<Override PartName="/xl/worksheets/sheet{i + 1}.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>"""))}</Types>
                """.Trim());
            Add("_rels/.rels", $"""<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="{Relations}/officeDocument" Target="xl/workbook.xml"/></Relationships>""");
            Add("xl/workbook.xml", $"""
                <workbook xmlns="{Main}" xmlns:r="{Relations}"><workbookPr{(from1904 ? " date1904=\"1\"" : "")}/><sheets>{string.Concat(sheets.Select((s, i) =>
                    $"<sheet name=\"{s.Name}\" sheetId=\"{i + 1}\"{(s.State is null ? "" : $" state=\"{s.State}\"")} r:id=\"s{i + 1}\"/>"))}</sheets></workbook>
                """.Trim());
            Add("xl/_rels/workbook.xml.rels", $"""
                <Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="st" Type="{Relations}/styles" Target="styles.xml"/><Relationship Id="ss" Type="{Relations}/sharedStrings" Target="sharedStrings.xml"/>{string.Concat(
                    sheets.Select((_, i) => $"<Relationship Id=\"s{i + 1}\" Type=\"{Relations}/worksheet\" Target=\"worksheets/sheet{i + 1}.xml\"/>"))}</Relationships>
                """.Trim());
            Add("xl/styles.xml", $"""
                <styleSheet xmlns="{Main}"><numFmts>{string.Concat(formats.Select((f, i) => $"<numFmt numFmtId=\"{164 + i}\" formatCode=\"{SecurityElement.Escape(f)}\"/>"))}</numFmts><cellXfs><xf numFmtId="0"/>{string.Concat(
                    formats.Select((_, i) => $"<xf numFmtId=\"{164 + i}\" applyNumberFormat=\"1\"/>"))}</cellXfs></styleSheet>
                """.Trim());
            Add("xl/sharedStrings.xml",
                $"<sst xmlns=\"{Main}\">{string.Concat(texts.Select(t => $"<si><t>{SecurityElement.Escape(t)}</t></si>"))}</sst>");
            foreach (var (name, i) in sheets.Select((s, i) => (s.Name, i)))
                Add($"xl/worksheets/sheet{i + 1}.xml", $"{prolog}<worksheet xmlns=\"{Main}\"><sheetData>{(sheets.Length > 1 ? rows.Replace("record_number", name, StringComparison.Ordinal) : rows)}</sheetData></worksheet>");
        }

        return bytes.ToArray();
    }
}
