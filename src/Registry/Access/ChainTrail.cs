using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>The hash of an entry of the access trail. docs/trail.md describes it for whoever verifies a trail without this
/// program.</summary>
public static class ChainTrail
{
    private const string Form = "registry-trail-1";

    /// <summary>What the first entry has before it.</summary>
    public static byte[] Beginning { get; } = new byte[SHA256.HashSizeInBytes];

    public static byte[] Hash(byte[] before, AccessRecord entry) => SHA256.HashData(Encoding.UTF8.GetBytes(Text(before, entry)));

    /// <summary>One line for each field in this order, an empty one for what is not stated, each ended by a line feed; no field holds
    /// one.</summary>
    private static string Text(byte[] before, AccessRecord entry) => string.Concat(new[]
    {
        Form,
        Convert.ToHexStringLower(before),
        entry.At.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffff'Z'", CultureInfo.InvariantCulture),
        Codes.Of(entry.Kind),
        entry.PersonId?.ToString(),
        entry.SiteKeyId?.ToString(),
        entry.Action,
        entry.Handler,
        entry.Filter,
        entry.InfantId?.ToString(),
        entry.InfantCount.ToString(CultureInfo.InvariantCulture),
        entry.Infants is null ? null : string.Join(',', entry.Infants),
        entry.SubjectId?.ToString(),
        entry.Note,
        entry.Address,
    }.Select(field => field + "\n"));
}
