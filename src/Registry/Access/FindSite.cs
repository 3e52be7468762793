using Npgsql;
using Registry.Records;

namespace Registry.Access;

/// <summary>Which site a submission is for.</summary>
public sealed class FindSite(NpgsqlDataSource source)
{
    /// <summary>The site of a code that is configured and not asked for by a person.</summary>
    public async Task<SiteId?> ByCodeAsync(string code, CancellationToken ct)
    {
        await using var command = source.CreateCommand("select id from sites where code = lower($1)");
        command.Parameters.AddWithValue(code.Trim());
        return await command.ExecuteScalarAsync(ct) is Guid id ? new SiteId(id) : null;
    }

    /// <param name="code">The site's code, or null for the sender's own.</param>
    /// <param name="viewer">The sender.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Null when there is none the sender may submit for.</returns>
    public async Task<SiteId?> ForAsync(string? code, Viewer viewer, CancellationToken ct)
    {
        if (string.IsNullOrWhiteSpace(code)) return viewer.SiteId;
        return await ByCodeAsync(code, ct) is { } id && viewer.MaySubmitFor(id) ? id : null;
    }
}
