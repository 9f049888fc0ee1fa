using System.Security.Cryptography;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Redaction;

/// <summary>What a pseudonym stands for: the same octets get another one for each purpose.</summary>
internal enum PseudonymOf : byte
{
    Key = 1,
    Label,
    Uuid,
    DeviceAddress,
    MeshAddress,
    NetworkId,
    Nid,
    Link,
    Octets,
}

/// <summary>
/// Makes octets that nobody can trace back without the secret: the same octets for the same purpose always give the same pseudonym. The secret comes from
/// the network's own first NetKey: so page, tables and excerpts of one network agree with each other, and nobody without that key can make them again.
/// </summary>
internal sealed class PseudonymGenerator
{
    private const int LongestOriginal = 512, PurposeOctets = 2;

    private readonly AesKey _secret;

    private PseudonymGenerator(ReadOnlySpan<byte> secret) => _secret = new AesKey(secret);

    /// <summary>Without any NetKey nothing is opened, and the secret is drawn anew each time.</summary>
    public static PseudonymGenerator For(KeyRing keys)
    {
        Span<byte> secret = stackalloc byte[AesKey.Length], salt = stackalloc byte[AesKey.Length];
        if (keys.Subnets.Count == 0)
            RandomNumberGenerator.Fill(secret);
        else
        {
            KeyDerivation.S1("meshtrace pseudonyms"u8, salt);
            KeyDerivation.K1(keys.Subnets[0].Material.Octets, salt, "secret"u8, secret);
        }
        return new PseudonymGenerator(secret);
    }

    /// <summary>Fills as many octets as are wanted.</summary>
    /// <param name="purpose">What they stand for.</param>
    /// <param name="original">At most 512 octets.</param>
    /// <param name="pseudonym">Any length; may be the memory of the original.</param>
    /// <param name="attempt">Another one where the first was not free.</param>
    public void Fill(PseudonymOf purpose, ReadOnlySpan<byte> original, Span<byte> pseudonym, byte attempt = 0)
    {
        Span<byte> input = stackalloc byte[PurposeOctets + LongestOriginal], key = stackalloc byte[AesKey.Length], block = stackalloc byte[AesKey.BlockLength];
        input[0] = (byte)purpose;
        input[1] = attempt;
        original.CopyTo(input[PurposeOctets..]);
        AesCmac.Compute(_secret, input[..(PurposeOctets + original.Length)], key);
        var stream = new AesKey(key);
        for (byte number = 0; !pseudonym.IsEmpty; number++)
        {
            block.Clear();
            block[0] = number;
            stream.Encrypt(block, block);
            int length = Math.Min(block.Length, pseudonym.Length);
            block[..length].CopyTo(pseudonym);
            pseudonym = pseudonym[length..];
        }
    }
}
