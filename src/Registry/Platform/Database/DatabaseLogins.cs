using System.Security.Cryptography;
using System.Text;
using Npgsql;

namespace Registry.Platform.Database;

/// <summary>
/// The logins the program connects to its database with. None can become another: each is a login of its own, not a role that was set.
/// Connection strings hold passwords: never log them.
/// </summary>
/// <param name="Writer">Web and worker. Adds to what is append-only and changes the rest.</param>
/// <param name="Reader">What is shown to a viewer or exported. Reads only, and only the rows the viewer may see, in one of the roles
/// <c>migrate</c> makes for it; in none it sees nothing.</param>
/// <param name="Owner">The <c>migrate</c> verb, which makes tables and the other two logins. Null where only web or worker run.</param>
public sealed record DatabaseLogins(string Writer, string Reader, string? Owner)
{
    /// <summary>A writer and a reader named and given passwords after an owner: for a server nobody else administers.</summary>
    public static DatabaseLogins Beside(string owner)
    {
        var secret = Encoding.UTF8.GetBytes(new NpgsqlConnectionStringBuilder(owner).Password ?? "");
        return new(Of("writer"), Of("reader"), owner);

        string Of(string purpose)
        {
            var login = new NpgsqlConnectionStringBuilder(owner);
            login.Username += "_" + purpose;
            login.Password = Convert.ToHexStringLower(HMACSHA256.HashData(secret, Encoding.UTF8.GetBytes(purpose)));
            return login.ConnectionString;
        }
    }
}
