using Microsoft.Extensions.Options;
using Registry.Outreach;
using Registry.Platform;
using Registry.Platform.Csv;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Accounts;

/// <summary>A link that was made for somebody.</summary>
/// <param name="Email">Who.</param>
/// <param name="Mailed">It was sent to them; then nobody else is shown it.</param>
/// <param name="Url">What to hand over when it could not be sent.</param>
public sealed record MadeLink(string Email, bool Mailed, string? Url);

/// <summary>A row of a file of people, and what is wrong with it.</summary>
public sealed record PersonRow(int Line, string Email, string Name, Role? Role, Site? Site, string? Problem);

/// <summary>Sends people the link that lets them in: one, or those of a file, which is tried before anybody is added.</summary>
public sealed class InvitePeople(ManagePeople manage, MailStaff mail, IOptions<ProgramOptions> program)
{
    public static readonly string[] Columns = ["email", "name", "role", "site"];

    /// <param name="email">Who.</param>
    /// <param name="name">Their name.</param>
    /// <param name="role">What they do.</param>
    /// <param name="site">Where; null for the program.</param>
    /// <param name="by">Who invites them.</param>
    /// <param name="shownAt">Where this page is reached, for a link that is handed over.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<(MadeLink? Link, IReadOnlyList<string> Problems)> RunAsync(
        string email, string name, Role role, SiteId? site, Guid by, string shownAt, CancellationToken ct)
    {
        var (person, token, problems) = await manage.InviteAsync(email, name, role, site, by, ct);
        return person is null ? (null, problems) : (await SendAsync(person, token!, shownAt, ct), []);
    }

    public async Task<MadeLink> SendAsync(Person person, string token, string shownAt, CancellationToken ct)
    {
        var path = $"/password/{token}";
        var text = PeopleWords.Letter(person.DisplayName, program.Value.Name, mail.Link(path), program.Value.Phone);
        var mailed = mail.HasServer && await mail.SendAsync(person.Email!, PeopleWords.LetterSubject(program.Value.Name), text, ct);
        return new(person.Email!, mailed, mailed ? null : shownAt + path);
    }

    /// <summary>Reads a file of people; nobody is added.</summary>
    public static (IReadOnlyList<PersonRow> Rows, string? Problem) Try(
        string text, IReadOnlyList<Site> sites, IReadOnlyCollection<string> known)
    {
        if (ReadCsv.Rows(text, Columns, out var reason) is not { } lines) return ([], reason);
        var seen = new HashSet<string>(known, StringComparer.OrdinalIgnoreCase);
        return ([.. lines.Select(line => Read(line, sites, seen))], null);
    }

    private static PersonRow Read(CsvLine line, IReadOnlyList<Site> sites, HashSet<string> seen)
    {
        var (email, name, code) = (line["email"], line["name"], line["site"]);
        var role = Codes.TryParse<Role>(line["role"].ToLowerInvariant(), out var r) ? r : (Role?)null;
        var site = sites.FirstOrDefault(s => s.Code.Equals(code, StringComparison.OrdinalIgnoreCase));
        var problem = !System.Net.Mail.MailAddress.TryCreate(email, out _) || email.Length > 254 ? AccountWords.EnterEmail
            : !seen.Add(email) ? $"{email} is there already."
            : name.Length is 0 or > 80 ? AccountWords.EnterName
            : role is null ? $"Roles are: {string.Join(", ", Enum.GetValues<Role>().Select(v => Codes.Of(v)))}."
            : code.Length > 0 && site is null ? AccountWords.NoSuchSite
            : ManagePeople.Misplaced(role.Value, site?.Id);
        return new(line.Number, email, name, role, site, problem);
    }
}
