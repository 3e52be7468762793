using Microsoft.AspNetCore.DataProtection.KeyManagement;

namespace Registry.Operations.Checks;

/// <summary>Can the keys of forms, which lie in the database under the passphrase, be opened.</summary>
internal sealed class CheckFormKeys(IKeyManager keys, TimeProvider time) : IInstallationCheck
{
    public Task<IReadOnlyList<CheckLine>> RunAsync(bool reachOthers, CancellationToken ct)
    {
        var now = time.GetUtcNow();
        try
        {
            var all = keys.GetAllKeys();
            var current = all.Where(k => !k.IsRevoked && k.ActivationDate <= now && k.ExpirationDate > now).ToList();
            return Task.FromResult<IReadOnlyList<CheckLine>>([current.Count == 0 ? CheckWords.NoFormKeys(all.Count)
                : CheckWords.FormKeys(current.Count, current.Count(IsOpen), current.Max(k => k.ExpirationDate))]);
        }
        catch (Npgsql.NpgsqlException)
        {
            return Task.FromResult<IReadOnlyList<CheckLine>>([]); // the line of the database says it
        }
    }

    private static bool IsOpen(IKey key)
    {
        try
        {
            return key.CreateEncryptor() is not null;
        }
        catch (Exception e) when (e is System.Security.Cryptography.CryptographicException or InvalidOperationException)
        {
            return false;
        }
    }
}
