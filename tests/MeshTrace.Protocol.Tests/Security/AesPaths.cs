using MeshTrace.Protocol.Security;
using Org.BouncyCastle.Crypto.Engines;

namespace MeshTrace.Protocol.Tests.Security;

/// <summary>
/// The ways in which a key can work on this machine: the processor's rounds where there are any, BouncyCastle's fastest engine, and the engine
/// that BouncyCastle uses on a processor without AES instructions.
/// </summary>
public static class AesPaths
{
    public static IReadOnlyList<(string Name, Func<byte[], AesKey> Make)> All { get; } =
    [
        .. AesRounds.IsSupported ? [("processor", k => new AesKey(k))] : Array.Empty<(string, Func<byte[], AesKey>)>(),
        ("BouncyCastle", k => new AesKey(k, Org.BouncyCastle.Crypto.AesUtilities.CreateEngine())),
        ("BouncyCastle without instructions", k => new AesKey(k, new AesEngine())),
    ];

    public static TheoryData<string> Names => [.. All.Select(p => p.Name)];

    public static AesKey Key(string path, byte[] key) => All.Single(p => p.Name == path).Make(key);
}
