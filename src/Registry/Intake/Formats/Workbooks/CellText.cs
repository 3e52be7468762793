using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Workbooks;

/// <summary>The text of a workbook's cell as we write it: dates and times in our form, numbers in digits, booleans as true and
/// false.</summary>
/// <remarks>ECMA-376 part 1: cell types 18.18.11, number formats 18.8.30 (the numbered ones up to 163 are the standard's own), dates
/// 18.17.4, escaped characters 22.9.2.19.</remarks>
internal sealed partial class CellText(bool from1904)
{
    /// <summary>What a shared text takes in memory beside its characters.</summary>
    private const int TextOverhead = 32;

    /// <summary>A workbook has at most 64,000 ways to show a cell (common practice, no source).</summary>
    private const int MaxFormats = 65_536;

    /// <summary>The first days a serial date can mean, by the workbook's system of dates.</summary>
    private static readonly DateTime Epoch1904 = new(1904, 1, 1);

    /// <summary>31 December 9999.</summary>
    private const double LastSerial = 2_958_465;

    private static readonly string[] IsoForms = ["yyyy-MM-dd", "yyyy-MM-ddTHH:mm", "yyyy-MM-ddTHH:mm:ss.FFFFFFF"];
    private static readonly string[] IsoTimes = ["HH:mm", "HH:mm:ss.FFFFFFF", "'T'HH:mm", "'T'HH:mm:ss.FFFFFFF"];

    private readonly List<string> _shared = [];
    private readonly List<string> _formats = [];

    /// <summary>Reads the table of shared texts.</summary>
    /// <param name="part">The part; read to its end.</param>
    /// <param name="maxBytes">How much memory it may take.</param>
    public void ReadShared(ReadPart part, long maxBytes)
    {
        var text = new StringBuilder();
        var bytes = 0L;
        while (part.Read())
        {
            if (!part.IsStart || part.Name != "si") continue;
            text.Clear();
            if (!part.AddRuns(text, RowBatch.MaxValue))
                throw new UnreadableFileException(0, null, $"a text of the workbook is longer than {RowBatch.MaxValue} characters");
            bytes += TextOverhead + (text.Length * sizeof(char));
            if (bytes > maxBytes)
                throw new UnreadableFileException(0, null, $"the shared texts of the workbook take more than {maxBytes} bytes: send CSV");
            _shared.Add(Unescaped(text.ToString()));
        }
    }

    /// <summary>Reads how cells are shown.</summary>
    public void ReadStyles(ReadPart part)
    {
        var own = new Dictionary<uint, string>();
        while (part.Read())
        {
            if (!part.IsStart || part.Name is not ("numFmts" or "cellXfs") || part.IsEmpty) continue;
            var (of, depth) = (part.Name, part.Depth);
            while (part.NextIn(depth))
            {
                if (own.Count + _formats.Count > MaxFormats) throw new InvalidDataException();
                if (of == "numFmts" && part.Name == "numFmt")
                {
                    own[Number(part.Attribute("numFmtId"))] = part.Attribute("formatCode") ?? "";
                }
                else if (of == "cellXfs" && part.Name == "xf")
                {
                    var id = Number(part.Attribute("numFmtId") ?? "0");
                    _formats.Add(Plain(own.TryGetValue(id, out var code) ? code : Standard(id)));
                }

                part.Skip();
            }
        }

        static uint Number(string? text) => uint.Parse(text ?? "", NumberStyles.None, CultureInfo.InvariantCulture);
    }

    /// <param name="type">The cell's type; null for a number.</param>
    /// <param name="style">Which of the ways to show a cell.</param>
    /// <param name="value">What stands in it.</param>
    /// <param name="problem">Why its value cannot be used; the text is then empty or inexact.</param>
    public string Of(string? type, string? style, string value, out string? problem)
    {
        problem = null;
        switch (type)
        {
            case "s": return value.Length == 0 ? "" : _shared[int.Parse(value.Trim(), NumberStyles.None, CultureInfo.InvariantCulture)];
            case "str" or "inlineStr": return Unescaped(value);
            case "b": return value.Trim() switch { "1" => "true", "0" => "false", var text => text.ToLowerInvariant() };
            case "e":
                problem = "the cell shows an error";
                return "";
            case null or "n" or "d": break;
            default: throw new InvalidDataException();
        }

        var format = style is not null && uint.Parse(style, NumberStyles.None, CultureInfo.InvariantCulture) is var index
            && index < _formats.Count ? _formats[(int)index] : "";
        value = value.Trim();
        if (type == "d") return Iso(value, format);
        if (value.Length == 0) return "";
        if (!double.TryParse(value, NumberStyles.Float, CultureInfo.InvariantCulture, out var number) || !double.IsFinite(number))
            return value;
        if (IsDate(format)) return DateText(number, format, out problem);
        if (Math.Abs(number) >= 1e15)
            problem = "is a number of more than 15 digits, of which a workbook keeps 15: format the column as text";
        // 0004711 is 4711 shown with leading zeros; other formats change how a number looks, not what it says.
        return format.StartsWith("00", StringComparison.Ordinal) && format.AsSpan().IndexOfAnyExcept("0- ") < 0
            ? number.ToString(format, CultureInfo.InvariantCulture)
            : Rounded(number).ToString(CultureInfo.InvariantCulture);
    }

    /// <summary>A workbook shows and computes with 15 digits.</summary>
    private static double Rounded(double number) =>
        double.Parse(number.ToString("G15", CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);

    /// <summary>A character XML cannot hold stands as _x000D_, and an underscore before such a thing as _x005F_.</summary>
    private static string Unescaped(string text) => text.Contains("_x", StringComparison.Ordinal)
        ? Escaped().Replace(text, m => ((char)int.Parse(m.ValueSpan[2..6], NumberStyles.HexNumber, CultureInfo.InvariantCulture))
            .ToString()) : text;

    [GeneratedRegex("_x[0-9A-Fa-f]{4}_")]
    private static partial Regex Escaped();

    /// <summary>A date in words of ISO 8601, as other dates are given; what is none of these stays as it is, for the row's
    /// checks.</summary>
    private static string Iso(string value, string format)
    {
        if (DateTime.TryParseExact(value, IsoTimes, CultureInfo.InvariantCulture, DateTimeStyles.NoCurrentDateDefault, out var time))
            return Second(time).ToString("HH:mm:ss", CultureInfo.InvariantCulture);
        return DateTime.TryParseExact(value, IsoForms, CultureInfo.InvariantCulture, DateTimeStyles.None, out var at)
            ? Written(Second(at), format) : value;
    }

    private static DateTime Second(DateTime at) => new(at.AddMilliseconds(500).Ticks / TimeSpan.TicksPerSecond * TimeSpan.TicksPerSecond);

    private string DateText(double serial, string format, out string? problem)
    {
        problem = null;
        var hasDay = format.AsSpan().IndexOfAny("yd") >= 0;
        if (serial < 0 || serial >= (from1904 ? LastSerial - 1_462 : LastSerial))
        {
            problem = "is not a date";
            return "";
        }

        // Times are fractions of a day: rounded to the second that was typed.
        var at = (from1904 ? Epoch1904 : SerialZero(serial)).AddSeconds(Math.Round(serial * 86_400));
        return !hasDay && serial < 1 ? at.ToString("HH:mm:ss", CultureInfo.InvariantCulture) : Written(at, format);
    }

    private static string Written(DateTime at, string format) => at.ToString(
        format.Contains('h', StringComparison.Ordinal) || at.TimeOfDay > TimeSpan.Zero
            ? "yyyy-MM-ddTHH:mm:ss" : "yyyy-MM-dd", CultureInfo.InvariantCulture);

    /// <summary>The system from 1900 counts a 29 February 1900 that never was.</summary>
    private static DateTime SerialZero(double serial) => serial < 60 ? new(1899, 12, 31) : new(1899, 12, 30);

    private static bool IsDate(string format) => format.AsSpan().IndexOfAny("ydhs") >= 0
        || (format.Contains('m', StringComparison.Ordinal) && format.AsSpan().IndexOfAny("0#?") < 0);

    /// <summary>A format's first section in lower case, without colours, conditions, quoted texts and escaped characters.</summary>
    private static string Plain(string format)
    {
        if (format is "" or "General" or "@") return "";
        var plain = new StringBuilder();
        for (var i = 0; i < format.Length && format[i] != ';'; i++)
        {
            switch (format[i])
            {
                case '"': i = Close(format, i, '"'); break;
                case '[' when Elapsed(format.AsSpan(i)): break;
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

    /// <summary>Is it [h], [mm] or [ss], a time that passed, rather than a colour as [Magenta].</summary>
    private static bool Elapsed(ReadOnlySpan<char> format)
    {
        var end = format.IndexOf(']');
        if (end < 2 || !"hmsHMS".Contains(format[1], StringComparison.Ordinal)) return false;
        return format[1..end].IndexOfAnyExcept(char.ToLowerInvariant(format[1]), char.ToUpperInvariant(format[1])) < 0;
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
