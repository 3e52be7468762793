namespace Registry.Accounts;

/// <summary>What the pages of accounts answer, in words.</summary>
internal static class AccountWords
{
    public const string EnterEmail = "Enter your e-mail address.";
    public const string EnterPassword = "Enter your password.";

    /// <summary>The same whether the address is unknown, the password wrong or the account locked.</summary>
    public const string NotSignedIn = "These do not match, or the account is locked for a while after too many tries.";

    /// <summary>Beside a read of several infants.</summary>
    public const string InList = ", in a list";

    public const string ChooseSite = "Choose the site.";
    public const string NoSuchSite = "There is no such site.";
    public const string NameSystem = "Name the system that will use the key.";
    public const string NameTooLong = "At most 80 characters.";
    public const string KeyRevoked = "The key is revoked. It is refused from now on.";
    public const string NoSuchKey = "There is no such key, or it was revoked before.";
}
