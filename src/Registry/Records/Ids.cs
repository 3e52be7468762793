using System.Globalization;

namespace Registry.Records;

public readonly record struct InfantId(Guid Value)
{
    public static InfantId New() => new(Guid.CreateVersion7());
    public static bool TryParse(string? text, IFormatProvider? provider, out InfantId id)
    {
        var ok = Guid.TryParse(text, CultureInfo.InvariantCulture, out var value);
        id = new(value);
        return ok;
    }

    public override string ToString() => Value.ToString();
}

public readonly record struct SiteId(Guid Value)
{
    public static SiteId New() => new(Guid.CreateVersion7());
    public static bool TryParse(string? text, IFormatProvider? provider, out SiteId id)
    {
        var ok = Guid.TryParse(text, CultureInfo.InvariantCulture, out var value);
        id = new(value);
        return ok;
    }

    public override string ToString() => Value.ToString();
}

public readonly record struct SubmissionId(Guid Value)
{
    public static SubmissionId New() => new(Guid.CreateVersion7());
    public static bool TryParse(string? text, IFormatProvider? provider, out SubmissionId id)
    {
        var ok = Guid.TryParse(text, CultureInfo.InvariantCulture, out var value);
        id = new(value);
        return ok;
    }

    public override string ToString() => Value.ToString();
}
