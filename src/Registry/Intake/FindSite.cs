using Npgsql;
using Registry.Access;
using Registry.Records;

namespace Registry.Intake;

/// <summary>Which site a submission is for.</summary>
public sealed class FindSite(NpgsqlDataSource source)
{
    /// <param name="code">The site's code, or null for the sender's own.</param>
    /// <param name="viewer">The sender.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Null when there is none the sender may submit for.</returns>
    public async Task<SiteId?> ForAsync(string? code, Viewer viewer, CancellationToken ct)
    {
        if (string.IsNullOrWhiteSpace(code)) return viewer.SiteId;
        await using var command = source.CreateCommand("select id from sites where code = lower($1)");
        command.Parameters.AddWithValue(code.Trim());
        return await command.ExecuteScalarAsync(ct) is Guid id && viewer.MaySubmitFor(new(id)) ? new SiteId(id) : null;
    }
}
