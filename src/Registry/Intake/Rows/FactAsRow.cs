using System.Globalization;
using Registry.Facts;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>The columns by which a row states a fact, whole: read again (<see cref="CheckRow"/>) they are the same fact. How a kind does it
/// stands beside how it is read.</summary>
public static partial class FactAsRow
{
    /// <param name="fact">The fact.</param>
    /// <param name="sites">Codes of the sites it may name.</param>
    public static IReadOnlyDictionary<Field, string> Of(ReportedFact fact, IReadOnlyDictionary<Guid, string> sites)
    {
        var row = new StatedColumns();
        KindOfRow.Of(FactKinds.Of(fact).Kind).Say(row, fact, sites);
        return row.All;
    }
}

/// <summary>The columns of one row; what is not known is not stated.</summary>
internal sealed class StatedColumns
{
    private readonly Dictionary<Field, string> _stated = [];

    public IReadOnlyDictionary<Field, string> All => _stated;

    public void Text(Field field, string? value)
    {
        if (!string.IsNullOrEmpty(value)) _stated[field] = value;
    }

    public void Code<T>(Field field, T? value) where T : struct, Enum => Text(field, value is { } known ? Codes.Of(known) : null);

    public void Code<T>(Field field, T value, T notStated) where T : struct, Enum =>
        Code<T>(field, value.Equals(notStated) ? null : value);

    public void Day(Field field, DateOnly? value) => Text(field, value?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));

    /// <summary>Seconds where there are any.</summary>
    public void Time(Field field, TimeOnly? value) =>
        Text(field, value?.ToString(value.Value.Second == 0 ? "HH:mm" : "HH:mm:ss", CultureInfo.InvariantCulture));

    public void Moment(Field field, DateTime value) => Text(field, value.ToString(
        value.Second == 0 ? "yyyy-MM-dd'T'HH:mm" : "yyyy-MM-dd'T'HH:mm:ss", CultureInfo.InvariantCulture));

    public void Number(Field field, decimal? value) =>
        Text(field, value?.ToString("0.##", CultureInfo.InvariantCulture));

    public void Bool(Field field, bool? value) => Text(field, value is { } stated ? stated ? "true" : "false" : null);
}
