using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using OtpNet;
using Registry.Records;

namespace Registry.Access;

/// <summary>What became of a code.</summary>
public enum CodeAnswer { Right, Wrong, TooMany }

/// <summary>
/// Checks a second factor: six figures of an authenticator (RFC 6238, 30 seconds, SHA-1, one step either way), each taken once, or one of
/// the recovery codes, each used up. Behind the same limits as passwords: wrong ones cost a growing wait.
/// </summary>
public sealed class CheckSecondFactor(
    UserManager<Person> people, RegistryDb db, LimitSignIns limits, AuditActs audit, TimeProvider clock)
{
    private const int Figures = 6, StepSeconds = 30;

    public async Task<CodeAnswer> RunAsync(Person person, string code, string address, CancellationToken ct)
    {
        using var lease = await limits.EnterAsync(address, ct);
        if (!lease.IsAcquired) return CodeAnswer.TooMany;
        // Who tries codes has the password: an address known to the account earns nothing here.
        var account = $"second factor of {person.Id}";
        var right = !limits.MustWait(account, address, known: false) && person.TwoFactorEnabled
            && (await people.GetAuthenticatorKeyAsync(person) is { } key && StepOf(key, code, clock.GetUtcNow()) is { } step
                ? await TakeAsync(person, step, ct)
                : (await people.RedeemTwoFactorRecoveryCodeAsync(person, code.Trim())).Succeeded);
        if (right) limits.Succeeded(account, address);
        else limits.Failed(account, address, known: false);
        await audit.RecordAsync(
            right ? AccessKind.SecondFactor : AccessKind.SecondFactorFailed, person.Id, right ? "shown" : null, person.Id);
        return right ? CodeAnswer.Right : CodeAnswer.Wrong;
    }

    /// <summary>The time step a code is of, by a key in base32; null when it is none of now, the step before or the one after.</summary>
    public static long? StepOf(string key, string code, DateTimeOffset now)
    {
        var figures = code.Replace(" ", "", StringComparison.Ordinal);
        if (figures.Length != Figures || !figures.All(char.IsAsciiDigit)) return null;
        return new Totp(Base32Encoding.ToBytes(key), StepSeconds, OtpHashMode.Sha1, Figures)
            .VerifyTotp(now.UtcDateTime, figures, out var step, new VerificationWindow(previous: 1, future: 1)) ? step : null;
    }

    /// <summary>Of two who show one code at once, one is refused.</summary>
    private async Task<bool> TakeAsync(Person person, long step, CancellationToken ct)
    {
        var stamp = Guid.NewGuid().ToString();
        var taken = await db.Users.Where(p => p.Id == person.Id && (p.LastCodeStep == null || p.LastCodeStep < step))
            .ExecuteUpdateAsync(u => u.SetProperty(p => p.LastCodeStep, step).SetProperty(p => p.ConcurrencyStamp, stamp), ct) == 1;
        if (taken) await db.Entry(person).ReloadAsync(ct);
        return taken;
    }
}
