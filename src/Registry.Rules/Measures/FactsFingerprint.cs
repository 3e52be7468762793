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
        var f = infant.Facts;
        var text = new StringBuilder(infant.Id.ToString("n"));
        Append("birth", [f.Birth]);
        Append("death", f.DiedOn is { } died ? [died] : Array.Empty<DateOnly>());
        Append("test", f.Tests);
        Append("evaluation", f.Evaluations);
        Append("intervention", f.Interventions);
        Append("move", f.Moves);
        Append("transfer", f.Transfers);
        Append("refusal", f.Refusals);
        Append("risk", f.RiskIndicators);
        Append("contact", f.ContactAttempts);
        Append("readmission", f.Readmissions);
        Append("medical_delay", f.MedicalDelays);
        Append("attributes", [infant.Attributes]);
        var hash = SHA256.HashData(Encoding.UTF8.GetBytes(text.ToString()));
        for (var k = 0; k < 4; k++) _sum[k] += BitConverter.ToUInt64(hash, k * 8);
        _infants++;

        void Append<T>(string kind, T[] facts)
        {
            foreach (var fact in facts.Select(x => JsonSerializer.Serialize(x, Stated)).Order(StringComparer.Ordinal))
                text.Append('|').Append(kind).Append(fact);
        }
    }

    /// <summary>The number of infants and 256 bits in hexadecimal.</summary>
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{_infants}-{_sum[0]:x16}{_sum[1]:x16}{_sum[2]:x16}{_sum[3]:x16}");
}
