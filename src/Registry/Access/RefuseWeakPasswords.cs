using Microsoft.AspNetCore.Identity;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// Refuses a password somebody would guess, wherever one is set: those of published lists, common words and names, keyboard rows, dates and
/// repetitions, also slightly changed, and the person's own name and address. Judged by the library zxcvbn, whose lists are those of its
/// authors (Wheeler, USENIX Security 2016).
/// </summary>
public sealed class RefuseWeakPasswords : IPasswordValidator<Person>
{
    public const int Shortest = 12;

    /// <summary>Long enough for any sentence; a longer one would only keep the hashing busy. ASVS 5 asks to permit at least 64.</summary>
    public const int Longest = 128;

    /// <summary>Of 4: "safely unguessable: moderate protection from an offline attack".</summary>
    private const int EnoughScore = 3;

    /// <summary>Beyond this nothing is added to the guesses but time.</summary>
    private const int LongestJudged = 72;

    public Task<IdentityResult> ValidateAsync(UserManager<Person> manager, Person user, string? password) =>
        Task.FromResult(Problem(user, password ?? "") is { } problem
            ? IdentityResult.Failed(new IdentityError { Code = "WeakPassword", Description = problem }) : IdentityResult.Success);

    private static string? Problem(Person user, string password)
    {
        if (password.Length > Longest) return PasswordWords.TooLong;
        string?[] own = [user.Email, user.UserName, user.DisplayName, .. user.DisplayName.Split(' '), "registry", "hearing", "screening"];
        var judged = password.Length > LongestJudged ? password[..LongestJudged] : password;
        return Zxcvbn.Zxcvbn.MatchPassword(judged, own.OfType<string>().Where(w => w.Length > 2)).Score < EnoughScore
            ? PasswordWords.Common : null;
    }
}

/// <summary>What is wrong with a new password, in words.</summary>
public static class PasswordWords
{
    public static readonly string TooLong = $"At most {RefuseWeakPasswords.Longest} characters.";
    public const string Common = "This password is easily guessed: it is common, or made of common words, names, dates or rows of keys. "
        + "Take several words that have nothing to do with each other.";
}
