using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Registry.Rules.Measures;

/// <summary>
/// One short text that stands for every fact and attribute a report counted. When an old report is run again and a figure
/// differs, equal fingerprints say that the program changed, unequal ones that the facts did. Independent of the order in which
/// facts and infants are read (sums of SHA-256 words); not a protection against forgery. Values that were not stated add
/// nothing, so that a field added to a fact later leaves old fingerprints as they were.
/// </summary>
public sealed class FactsFingerprint
{
    private static readonly JsonSerializerOptions Stated = new()
    {
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingDefault,
        Converters = { new JsonStringEnumConverter() },
    };

    private readonly ulong[] _sum = new ulong[4];
    private int _infants;

    public void Add(MeasuredInfant infant)
    {
        var text = new StringBuilder(infant.Id.ToString("n"));
        foreach (var (kind, facts) in infant.Facts.ByKind()) Append(kind, facts);
        Append("attributes", new[] { infant.Attributes });
        var hash = SHA256.HashData(Encoding.UTF8.GetBytes(text.ToString()));
        for (var k = 0; k < 4; k++) _sum[k] += BitConverter.ToUInt64(hash, k * 8);
        _infants++;

        void Append(string kind, Array facts)
        {
            var type = facts.GetType().GetElementType()!;
            foreach (var fact in facts.Cast<object>().Select(f => JsonSerializer.Serialize(f, type, Stated)).Order(StringComparer.Ordinal))
                text.Append('|').Append(kind).Append(fact);
        }
    }

    /// <summary>The number of infants and 256 bits in hexadecimal.</summary>
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{_infants}-{_sum[0]:x16}{_sum[1]:x16}{_sum[2]:x16}{_sum[3]:x16}");
}
