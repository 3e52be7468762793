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
            var opened = current.Where(IsOpen).ToList();
            return Task.FromResult<IReadOnlyList<CheckLine>>(
                [CheckWords.FormKeys(all.Count, current.Count, opened.Count == 0 ? null : opened.Max(k => k.ExpirationDate))]);
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
