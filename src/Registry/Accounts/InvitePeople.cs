using Microsoft.Extensions.Options;
using Registry.Outreach;
using Registry.Platform;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>A link that was made for somebody.</summary>
/// <param name="Email">Who.</param>
/// <param name="Mailed">It was sent to them; then nobody else is shown it.</param>
/// <param name="Url">What to hand over when it could not be sent.</param>
public sealed record MadeLink(string Email, bool Mailed, string? Url);

/// <summary>Sends people the link that lets them in.</summary>
public sealed class InvitePeople(ManagePeople manage, MailStaff mail, IOptions<ProgramOptions> program)
{
    /// <param name="email">Who.</param>
    /// <param name="name">Their name.</param>
    /// <param name="placing">What they are to be.</param>
    /// <param name="by">Who invites them.</param>
    /// <param name="shownAt">Where this page is reached, for a link that is handed over.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<(MadeLink? Link, IReadOnlyList<string> Problems)> RunAsync(
        string email, string name, Placing placing, Guid by, string shownAt, CancellationToken ct)
    {
        var (person, token, problems) = await manage.InviteAsync(email, name, placing, by, ct);
        return person is null ? (null, problems) : (await SendAsync(person, token!, shownAt, ct), []);
    }

    public async Task<MadeLink> SendAsync(Person person, string token, string shownAt, CancellationToken ct)
    {
        var path = $"/password/{token}";
        var text = PeopleWords.Letter(person.DisplayName, program.Value.Name, mail.Link(path), program.Value.Phone);
        var mailed = mail.HasServer && await mail.SendAsync(person.Email!, PeopleWords.LetterSubject(program.Value.Name), text, ct);
        return new(person.Email!, mailed, mailed ? null : shownAt + path);
    }
}
