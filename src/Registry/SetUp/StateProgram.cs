using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.SetUp;

/// <summary>The program says what it is called, where it is and who answers: kept as a further line, in force at once.</summary>
public sealed class StateProgram(
    RegistryDb db, ProgramInForce program, PolicyStore policies, ShowProgress progress, Viewer viewer, AuditActs audit, TimeProvider clock)
{
    private const int Longest = 120;

    /// <summary>The languages letters are written in.</summary>
    public static readonly IReadOnlyList<string> Languages = ["en", "es"];

    /// <returns>What is wrong, in words; null when it is in force.</returns>
    public async Task<string?> RunAsync(ProgramOptions stated, CancellationToken ct)
    {
        string[] texts = [stated.Name, stated.Region, stated.TimeZone, stated.Phone, stated.PrivacyContact ?? ""];
        if (texts.Any(t => t.Length == 0) || !stated.Languages.Contains("en")) return SetUpWords.EnterAll;
        if (texts.Concat(stated.Counties).Any(t => t.Length > Longest)) return SetUpWords.TooLong;
        if (!TimeZoneInfo.TryFindSystemTimeZoneById(stated.TimeZone, out var zone) || !zone.HasIanaId) return SetUpWords.UnknownZone;
        db.Set<ProgramSettings>().Add(new()
        {
            StatedAt = clock.GetUtcNow(),
            StatedBy = viewer.PersonId!.Value,
            Name = stated.Name,
            Region = stated.Region,
            TimeZone = stated.TimeZone,
            Phone = stated.Phone,
            PrivacyContact = stated.PrivacyContact!,
            Languages = [.. stated.Languages],
            Counties = [.. stated.Counties],
        });
        await db.SaveChangesAsync(ct);
        await audit.RecordAsync(AccessKind.ProgramChanged);
        await program.ReadAsync(ct);
        policies.Forget(); // they count days in its time zone
        await progress.AnswerAsync(SetUpStep.Program, ct);
        return null;
    }
}
