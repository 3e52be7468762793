using Npgsql;

namespace Registry.Facts;

/// <summary>A column of a table of facts, or of the detail that is read with it.</summary>
public class FactColumn(string name, bool ofDetail)
{
    public string Name { get; } = name;

    /// <summary>Read from the view beside the table, and written by another way.</summary>
    public bool IsOfDetail { get; } = ofDetail;

    /// <summary>In the export: no figure needs names and ways to reach a family.</summary>
    public bool IsExported { get; protected set; } = true;

    /// <summary>Encrypted in the table.</summary>
    public bool IsSecret { get; protected set; }

    /// <summary>Where it stands in a statement that reads facts: <c>f</c> is the table, <c>d</c> its detail.</summary>
    internal string Source => (IsOfDetail ? "d." : "f.") + Name;
}

/// <summary>A column that reads as a <typeparamref name="T"/>.</summary>
/// <param name="name">Its name.</param>
/// <param name="ofDetail">Read from the view beside the table.</param>
/// <param name="position">Where it stands in a row that is read.</param>
/// <param name="read">Reads it at its position.</param>
public sealed class FactColumn<T>(string name, bool ofDetail, int position, Func<NpgsqlDataReader, int, T> read)
    : FactColumn(name, ofDetail)
{
    /// <summary>Its value in the row the reader is at.</summary>
    public T this[NpgsqlDataReader row] => read(row, position);

    internal FactColumn<T> NotExported()
    {
        IsExported = false;
        return this;
    }

    internal FactColumn<T> Encrypted()
    {
        IsSecret = true;
        return NotExported();
    }
}
