using System.Globalization;
using DocumentFormat.OpenXml;
using DocumentFormat.OpenXml.Packaging;
using DocumentFormat.OpenXml.Spreadsheet;

namespace Registry.Intake;

/// <summary>The text of a workbook's cell as we write it: dates and times in our form, numbers in digits, booleans as true and false.</summary>
/// <remarks>ECMA-376 part 1: cell types 18.18.11, number formats 18.8.30 (the numbered ones up to 163 are the standard's own), dates 18.17.4.</remarks>
internal sealed class CellText
{
    /// <summary>The first days a serial date can mean, by the workbook's system of dates.</summary>
    private static readonly DateTime Epoch1904 = new(1904, 1, 1);

    private readonly List<string> _shared = [];
    private readonly List<string> _formats = [];
    private readonly bool _from1904;

    public CellText(WorkbookPart part)
    {
        _from1904 = part.Workbook?.WorkbookProperties?.Date1904?.Value ?? false;
        if (part.SharedStringTablePart is { } shared)
        {
            using var reader = OpenXmlReader.Create(shared);
            while (reader.Read())
                if (reader.ElementType == typeof(SharedStringItem) && reader.IsStartElement) _shared.Add(TextOf((SharedStringItem)reader.LoadCurrentElement()!));
        }

        var styles = part.WorkbookStylesPart?.Stylesheet;
        var own = styles?.NumberingFormats?.Elements<NumberingFormat>().ToDictionary(f => f.NumberFormatId!.Value, f => f.FormatCode?.Value ?? "") ?? [];
        foreach (var format in styles?.CellFormats?.Elements<CellFormat>() ?? [])
        {
            var id = format.NumberFormatId?.Value ?? 0;
            _formats.Add(own.TryGetValue(id, out var code) ? code : Standard(id));
        }
    }

    /// <param name="cell">The cell.</param>
    /// <param name="problem">Why its value cannot be used; the text is then empty or inexact.</param>
    public string Of(Cell cell, out string? problem)
    {
        problem = null;
        var value = cell.CellValue?.Text ?? "";
        var type = cell.DataType?.Value;
        if (type == CellValues.SharedString) return _shared[int.Parse(value, NumberStyles.None, CultureInfo.InvariantCulture)];
        if (type == CellValues.InlineString) return cell.InlineString is { } inline ? string.Concat(inline.Descendants<Text>().Where(t => t.Parent is not PhoneticRun).Select(t => t.Text)) : "";
        if (type == CellValues.Boolean) return value == "1" ? "true" : "false";
        if (type == CellValues.Error)
        {
            problem = "the cell shows an error";
            return "";
        }

        if (type == CellValues.String || type == CellValues.Date || value.Length == 0) return value;
        if (!double.TryParse(value, NumberStyles.Float, CultureInfo.InvariantCulture, out var number)) return value;
        var format = Plain(cell.StyleIndex?.Value is { } style && style < _formats.Count ? _formats[(int)style] : "");
        if (IsDate(format)) return DateText(number, format, out problem);
        if (Math.Abs(number) >= 1e15) problem = "is a number of more than 15 digits, of which a workbook keeps 15: format the column as text";
        // 0004711 is 4711 shown with leading zeros; other formats change how a number looks, not what it says.
        return format.StartsWith("00", StringComparison.Ordinal) && format.AsSpan().IndexOfAnyExcept("0- ") < 0
            ? number.ToString(format, CultureInfo.InvariantCulture)
            : Rounded(number).ToString(CultureInfo.InvariantCulture);
    }

    private static string TextOf(SharedStringItem item) =>
        item.Text?.Text ?? string.Concat(item.Elements<Run>().Select(r => r.Text?.Text));

    /// <summary>A workbook shows and computes with 15 digits.</summary>
    private static double Rounded(double number) => double.Parse(number.ToString("G15", CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);

    private string DateText(double serial, string format, out string? problem)
    {
        problem = null;
        var hasDay = format.AsSpan().IndexOfAny("yd") >= 0;
        if (serial is < 0 or >= 2_958_466)
        {
            problem = "is not a date";
            return "";
        }

        // Times are fractions of a day: rounded to the second that was typed.
        var at = (_from1904 ? Epoch1904 : SerialZero(serial)).AddSeconds(Math.Round(serial * 86_400));
        if (!hasDay && serial < 1) return at.ToString("HH:mm:ss", CultureInfo.InvariantCulture);
        return at.ToString(format.Contains('h', StringComparison.Ordinal) || at.TimeOfDay > TimeSpan.Zero ? "yyyy-MM-ddTHH:mm:ss" : "yyyy-MM-dd", CultureInfo.InvariantCulture);
    }

    /// <summary>The system from 1900 counts a 29 February 1900 that never was.</summary>
    private static DateTime SerialZero(double serial) => serial < 60 ? new(1899, 12, 31) : new(1899, 12, 30);

    private static bool IsDate(string format) => format.AsSpan().IndexOfAny("ydhs") >= 0 || (format.Contains('m', StringComparison.Ordinal) && format.AsSpan().IndexOfAny("0#?") < 0);

    /// <summary>A format's first section in lower case, without colours, quoted texts and escaped characters.</summary>
    private static string Plain(string format)
    {
        if (format is "" or "General" or "@") return "";
        var plain = new System.Text.StringBuilder();
        for (var i = 0; i < format.Length && format[i] != ';'; i++)
        {
            switch (format[i])
            {
                case '"': i = Close(format, i, '"'); break;
                case '[' when i + 1 < format.Length && "hmsHMS".Contains(format[i + 1], StringComparison.Ordinal): break;
                case '[': i = Close(format, i, ']'); break;
                case '\\' or '_' or '*' when i + 1 < format.Length:
                    i++;
                    if (format[i - 1] == '\\' && format[i] is '-' or ' ') plain.Append(format[i]);
                    break;
                default: plain.Append(char.ToLowerInvariant(format[i])); break;
            }
        }

        return plain.ToString().Replace("general", "", StringComparison.Ordinal);
    }

    private static int Close(string format, int open, char with) => format.IndexOf(with, open + 1) is >= 0 and var at ? at : format.Length;

    /// <summary>The dates and times among the standard's numbered formats.</summary>
    private static string Standard(uint id) => id switch
    {
        >= 14 and <= 17 or >= 27 and <= 31 or 36 or >= 50 and <= 54 or 57 or 58 => "yyyy-mm-dd",
        18 or 19 or 20 or 21 or 32 or 33 or 34 or 35 or 45 or 46 or 47 or 55 or 56 => "hh:mm:ss",
        22 => "yyyy-mm-dd hh:mm",
        _ => "",
    };
}
