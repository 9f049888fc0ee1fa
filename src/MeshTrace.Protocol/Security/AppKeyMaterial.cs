namespace MeshTrace.Protocol.Security;

/// <summary>An AppKey with its AID (Mesh Protocol 1.1 §3.9.6.2).</summary>
public sealed class AppKeyMaterial
{
    private readonly byte[] _octets;

    /// <exception cref="ArgumentException">The key has not 16 octets.</exception>
    public AppKeyMaterial(ReadOnlySpan<byte> appKey)
    {
        Key = new AesKey(appKey);
        Aid = KeyDerivation.K4(appKey);
        _octets = appKey.ToArray();
    }

    /// <summary>The 6-bit application key identifier; several keys can share it.</summary>
    public byte Aid { get; }

    public AesKey Key { get; }

    /// <summary>The secret octets themselves: for key learning and comparison only, never to be shown.</summary>
    public ReadOnlySpan<byte> Octets => _octets;

    /// <summary>Never shows the key.</summary>
    public override string ToString() => $"AppKey with AID 0x{Aid:x2}";
}
