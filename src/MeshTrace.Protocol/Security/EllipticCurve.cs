using Org.BouncyCastle.Asn1.X9;
using Org.BouncyCastle.Crypto.EC;
using Org.BouncyCastle.Math;
using Org.BouncyCastle.Math.EC;
using Org.BouncyCastle.Math.EC.Multiplier;

namespace MeshTrace.Protocol.Security;

/// <summary>
/// ECDH over P-256, as provisioning uses it (Mesh Protocol 1.1 §5.4.2; RFC 5903). Numbers are big-endian, a point is X then Y.
/// </summary>
public static class EllipticCurve
{
    /// <summary>Octets of a private key and of the shared secret.</summary>
    public const int PrivateKeyLength = 32, SecretLength = 32;

    /// <summary>Octets of a public key: X and Y.</summary>
    public const int PublicKeyLength = 64;

    private static readonly X9ECParameters Curve = CustomNamedCurves.GetByName("P-256");

    /// <summary>
    /// The public key of a private key; false where that is not from 1 to the order of the curve less 1, or a length is wrong.
    /// </summary>
    public static bool TryGetPublicKey(ReadOnlySpan<byte> privateKey, Span<byte> publicKey)
    {
        if (publicKey.Length < PublicKeyLength || !TryReadPrivateKey(privateKey, out BigInteger? d))
            return false;
        // SEC 1 §2.3.3: an octet of 0x04, then X and Y
        byte[] encoded = new FixedPointCombMultiplier().Multiply(Curve.G, d).Normalize().GetEncoded(compressed: false);
        encoded.AsSpan(1).CopyTo(publicKey);
        return true;
    }

    /// <summary>
    /// The shared secret: X of the other side's point times the private key. False where the public key is no point of the curve,
    /// which a Provisioner and a device must refuse (§5.4), or the private key is not one.
    /// </summary>
    public static bool TryGetSharedSecret(ReadOnlySpan<byte> privateKey, ReadOnlySpan<byte> peerPublicKey, Span<byte> secret)
    {
        if (secret.Length < SecretLength || !TryReadPoint(peerPublicKey, out ECPoint? point) || !TryReadPrivateKey(privateKey, out BigInteger? d))
            return false;
        byte[] x = point.Multiply(d).Normalize().AffineXCoord.GetEncoded();
        x.CopyTo(secret);
        Array.Clear(x);
        return true;
    }

    /// <summary>True for X and Y of a point on the curve.</summary>
    public static bool IsPublicKey(ReadOnlySpan<byte> publicKey) => TryReadPoint(publicKey, out _);

    private static bool TryReadPrivateKey(ReadOnlySpan<byte> privateKey, [System.Diagnostics.CodeAnalysis.NotNullWhen(true)] out BigInteger? d)
    {
        d = privateKey.Length == PrivateKeyLength ? new BigInteger(1, privateKey) : null;
        if (d is null || (d.SignValue > 0 && d.CompareTo(Curve.N) < 0))
            return d is not null;
        d = null;
        return false;
    }

    private static bool TryReadPoint(ReadOnlySpan<byte> publicKey, [System.Diagnostics.CodeAnalysis.NotNullWhen(true)] out ECPoint? point)
    {
        point = null;
        if (publicKey.Length != PublicKeyLength)
            return false;
        // Checked here rather than left to an exception: both coordinates below the prime, and y^2 = x^3 + ax + b.
        var x = new BigInteger(1, publicKey[..PrivateKeyLength]);
        var y = new BigInteger(1, publicKey[PrivateKeyLength..]);
        if (!Curve.Curve.IsValidFieldElement(x) || !Curve.Curve.IsValidFieldElement(y))
            return false;
        ECPoint candidate = Curve.Curve.CreatePoint(x, y);
        if (!candidate.IsValid())   // the cofactor is 1, so that each such point has the right order
            return false;
        point = candidate;
        return true;
    }
}
