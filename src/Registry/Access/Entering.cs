using System.Security.Claims;
using Microsoft.AspNetCore.Authentication;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>Somebody whose password was right and whose second factor is still to be shown, or set. Who they are is in a claim that no
/// permission knows: they hold none, and every page but these two is closed to them as it is to a stranger.</summary>
/// <param name="PersonId">Who says to be.</param>
/// <param name="SessionId">The session that waits.</param>
/// <param name="Lacks">What is wanted.</param>
public sealed record Entering(Guid PersonId, Guid SessionId, SecondFactor Lacks)
{
    public const string AskPage = "/sign-in/second-factor";
    public const string NewPage = "/sign-in/new-second-factor";

    private const string PersonClaim = "registry:entering";
    private const string LacksClaim = "registry:lacks";
    private const string Shown = "second_factor";

    public string Page => Lacks == SecondFactor.Code ? AskPage : NewPage;

    public static Entering? Of(ClaimsPrincipal principal) =>
        Guid.TryParse(principal.FindFirstValue(PersonClaim), out var person) && Viewer.SessionOf(principal) is { } session
            && Codes.TryParse<SecondFactor>(principal.FindFirstValue(LacksClaim), out var lacks) ? new(person, session, lacks) : null;

    /// <summary>What a sign-in is given when the second factor was shown with it.</summary>
    public static AuthenticationProperties WithSecondFactor() => new(new Dictionary<string, string?> { [Shown] = "shown" });

    internal static bool HasShownSecondFactor(AuthenticationProperties? properties) => properties?.Items.ContainsKey(Shown) == true;

    internal static ClaimsPrincipal PrincipalOf(SessionInForce session, string scheme) => new(new ClaimsIdentity(
    [
        new(ClaimTypes.NameIdentifier, session.PersonId.ToString()), // a form's token is bound to it
        new(PersonClaim, session.PersonId.ToString()),
        new(LacksClaim, Codes.Of(session.Lacks)),
        new(Viewer.SessionClaim, session.Id.ToString()),
    ], scheme));
}
