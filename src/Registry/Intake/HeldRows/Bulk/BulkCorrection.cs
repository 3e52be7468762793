using System.ComponentModel.DataAnnotations;
using System.Security.Cryptography;
using System.Text;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>A bulk correction as its form states it: the column, in which rows, and what is written there.</summary>
public sealed class BulkCorrection
{
    /// <summary>In every row; in those that do not state the column; in those that state what is typed. Else the key of a listed
    /// value.</summary>
    public const string Any = "any", Absent = "absent", Typed = "typed";

    public string? Field { get; set; }

    /// <summary>The column the rest was stated for; another one begins anew.</summary>
    public string? Of { get; set; }
    public string? Rows { get; set; }

    [DisplayFormat(ConvertEmptyStringToNull = false)]
    public string? Stated { get; set; }

    /// <summary>What is written; empty: the rows no longer state it. Null: not asked yet.</summary>
    [DisplayFormat(ConvertEmptyStringToNull = false)]
    public string? To { get; set; }

    /// <summary>What was tried last: only that is carried out.</summary>
    public string? Tried { get; set; }

    public Field? Column => Codes.TryParse<Field>(Field, out var column) && column != Intake.Rows.Field.Problems ? column : null;
    public string Write => (To ?? "").Trim();

    /// <summary>Stands for a listed value in the form: a browser may send the value itself back with other line breaks.</summary>
    public static string KeyOf(string value) => value.Length == 0 ? Absent : "value-" + Print(value)[..20];

    /// <summary>The same correction has the same print.</summary>
    public string PrintOf(Guid bulk) => Print($"{bulk}\n{Field}\n{Rows}\n{(Rows == Typed ? Stated : "")}\n{Write}");

    /// <summary>It says the same as when it was tried.</summary>
    public bool IsAsTried(Guid bulk) => Column is not null && Tried == PrintOf(bulk);

    /// <summary>Forgets what was stated for another column.</summary>
    public void BeginAnew()
    {
        if (Of != Field) (Rows, Stated, To, Tried) = (null, null, null, null);
    }

    /// <param name="listed">The values the form lists.</param>
    /// <param name="from">What a row must state to be changed: null anything, empty nothing.</param>
    /// <returns>Why the form does not say which rows; null when it does.</returns>
    public BulkRefusal? Read(IEnumerable<string> listed, out string? from)
    {
        from = Rows switch
        {
            Absent => "",
            Typed => (Stated ?? "").Trim(),
            Any => null,
            _ => listed.FirstOrDefault(v => KeyOf(v) == Rows),
        };
        if (Rows == Typed && from!.Length == 0) return BulkRefusal.NothingTyped;
        return from is null && Rows != Any ? BulkRefusal.NoRowsChosen : null;
    }

    /// <summary>What a correction makes of a row; null when the row does not state what is to be changed.</summary>
    public static IReadOnlyDictionary<Field, string>? Change(IReadOnlyDictionary<Field, string> row, Field field, string? from, string? to)
    {
        var states = row.GetValueOrDefault(field, "");
        if ((from is not null && !string.Equals(states, from, StringComparison.Ordinal)) || states == (to ?? "")) return null;
        return new Dictionary<Field, string>(row) { [field] = to ?? "" };
    }

    private static string Print(string text) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text)));
}
