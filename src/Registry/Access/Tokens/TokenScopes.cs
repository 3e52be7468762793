using Registry.Records;

namespace Registry.Access.Tokens;

/// <summary>
/// Scopes of SMART App Launch 2.2 (system scopes, "Scopes for requesting FHIR Resources") and what of a key they are. Only those over all
/// resources: a record is read whole and a Bundle mixes them, so a narrower token would promise a limit that this interface does not have.
/// </summary>
public static class TokenScopes
{
    private const string Create = "system/*.c", Read = "system/*.rs", Both = "system/*.crs";

    /// <summary>Those told to systems. <c>r</c> alone is understood too; there is no search for infants that <c>s</c> would open.</summary>
    public static readonly IReadOnlyList<string> Supported = [Create, Read, Both];

    public static string Of(KeyScope scope) => scope switch
    {
        KeyScope.Send => Create,
        KeyScope.Read => Read,
        _ => Both,
    };

    /// <returns>What was asked for; null when that is nothing, or anything that is not supported.</returns>
    public static KeyScope? Parse(string text)
    {
        var (send, read) = (false, false);
        foreach (var one in text.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            if (one is not (Create or Read or Both or "system/*.r" or "system/*.cr")) return null;
            send |= one is Create or Both or "system/*.cr";
            read |= one is not Create;
        }

        return (send, read) switch
        {
            (true, true) => KeyScope.SendAndRead,
            (true, false) => KeyScope.Send,
            (false, true) => KeyScope.Read,
            _ => null,
        };
    }

    /// <summary>Whether a key opens all that is asked for.</summary>
    public static bool IsWithin(KeyScope asked, KeyScope key) => Permissions.OfKey[key].IsSupersetOf(Permissions.OfKey[asked]);
}
