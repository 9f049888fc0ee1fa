using System.Security.Cryptography;
using MeshTrace.Protocol.Provisioning;
using Org.BouncyCastle.Crypto.Digests;
using Org.BouncyCastle.Crypto.Macs;
using Org.BouncyCastle.Crypto.Parameters;

namespace MeshTrace.Protocol.Security;

/// <summary>
/// What secures one provisioning (Mesh Protocol 1.1 §5.4.2): from the PDUs heard and the ECDH secret to the session key, the
/// provisioning data and the device key. Who has no private key of either side cannot come by the secret.
/// </summary>
public sealed class ProvisioningSecurity
{
    /// <summary>Octets of the confirmation inputs: Invite 1, Capabilities 11, Start 5, and both public keys, without PDU types.</summary>
    public const int ConfirmationInputsLength = 1 + 11 + 5 + (2 * EllipticCurve.PublicKeyLength);

    /// <summary>Octets of the provisioning data: NetKey 16, key index 2, flags 1, IV index 4, unicast address 2.</summary>
    public const int DataLength = 25;

    /// <summary>Octets of the MIC behind the encrypted provisioning data.</summary>
    public const int DataMicLength = 8;

    private readonly byte[] _secret;
    private readonly byte[] _confirmationSalt;

    /// <param name="algorithm">The algorithm of the Start PDU.</param>
    /// <param name="ecdhSecret">32 octets, see <see cref="EllipticCurve.TryGetSharedSecret"/>.</param>
    /// <param name="confirmationInputs">
    /// The parameters of Invite, Capabilities and Start, then the public keys of Provisioner and device: <see cref="ConfirmationInputsLength"/> octets.
    /// </param>
    /// <exception cref="ArgumentException">A length is wrong, or the algorithm is none of the two.</exception>
    public ProvisioningSecurity(ProvisioningAlgorithm algorithm, ReadOnlySpan<byte> ecdhSecret, ReadOnlySpan<byte> confirmationInputs)
    {
        if (algorithm is not (ProvisioningAlgorithm.CmacAes128 or ProvisioningAlgorithm.HmacSha256))
            throw new ArgumentException("The algorithm is not one of Mesh Protocol 1.1.", nameof(algorithm));
        if (ecdhSecret.Length != EllipticCurve.SecretLength)
            throw new ArgumentException("The secret has 32 octets.", nameof(ecdhSecret));
        if (confirmationInputs.Length != ConfirmationInputsLength)
            throw new ArgumentException("The confirmation inputs have 145 octets.", nameof(confirmationInputs));
        Algorithm = algorithm;
        _secret = ecdhSecret.ToArray();
        _confirmationSalt = new byte[ConfirmationLength];
        if (algorithm == ProvisioningAlgorithm.CmacAes128)
            KeyDerivation.S1(confirmationInputs, _confirmationSalt);
        else
            S2(confirmationInputs, _confirmationSalt);
    }

    public ProvisioningAlgorithm Algorithm { get; }

    /// <summary>Octets of Confirmation, Random and AuthValue: 16, or 32 with HMAC-SHA-256.</summary>
    public int ConfirmationLength => Algorithm == ProvisioningAlgorithm.CmacAes128 ? 16 : 32;

    /// <summary>s1 or s2 of the confirmation inputs.</summary>
    public ReadOnlySpan<byte> ConfirmationSalt => _confirmationSalt;

    /// <summary>
    /// The confirmation value of one side (§5.4.2): what its Confirmation PDU must hold, for its Random and the AuthValue.
    /// </summary>
    /// <param name="random">The Random PDU's value of that side.</param>
    /// <param name="authValue">The authentication value; all 0 where there is no out-of-band information.</param>
    /// <param name="confirmation"><see cref="ConfirmationLength"/> octets are written.</param>
    /// <exception cref="ArgumentException">Random or AuthValue has not <see cref="ConfirmationLength"/> octets.</exception>
    public void ComputeConfirmation(ReadOnlySpan<byte> random, ReadOnlySpan<byte> authValue, Span<byte> confirmation)
    {
        if (random.Length != ConfirmationLength || authValue.Length != ConfirmationLength)
            throw new ArgumentException("Random and AuthValue have the octets of a confirmation.");
        Span<byte> key = stackalloc byte[ConfirmationLength];
        ComputeConfirmationKey(authValue, key);
        if (Algorithm == ProvisioningAlgorithm.CmacAes128)
        {
            Span<byte> message = stackalloc byte[2 * ConfirmationLength];
            random.CopyTo(message);
            authValue.CopyTo(message[ConfirmationLength..]);
            AesCmac.Compute(new AesKey(key), message, confirmation);
        }
        else
        {
            HmacSha256(key, random, confirmation);
        }
        key.Clear();
    }

    /// <summary>k1(secret, salt, "prck"), or k5(secret || AuthValue, salt, "prck256") (§5.4.2).</summary>
    internal void ComputeConfirmationKey(ReadOnlySpan<byte> authValue, Span<byte> key)
    {
        if (Algorithm == ProvisioningAlgorithm.CmacAes128)
        {
            KeyDerivation.K1(_secret, _confirmationSalt, "prck"u8, key);
            return;
        }
        Span<byte> n = stackalloc byte[EllipticCurve.SecretLength + ConfirmationLength];
        _secret.CopyTo(n);
        authValue.CopyTo(n[EllipticCurve.SecretLength..]);
        K5(n, _confirmationSalt, "prck256"u8, key);
        n.Clear();
    }

    /// <summary>Provisioning salt (§5.4.2): s1 of confirmation salt and both Random values.</summary>
    public void ComputeProvisioningSalt(ReadOnlySpan<byte> randomProvisioner, ReadOnlySpan<byte> randomDevice, Span<byte> salt)
    {
        if (randomProvisioner.Length != ConfirmationLength || randomDevice.Length != ConfirmationLength)
            throw new ArgumentException("A Random value has the octets of a confirmation.");
        Span<byte> message = stackalloc byte[3 * ConfirmationLength];
        _confirmationSalt.CopyTo(message);
        randomProvisioner.CopyTo(message[ConfirmationLength..]);
        randomDevice.CopyTo(message[(2 * ConfirmationLength)..]);
        KeyDerivation.S1(message, salt);
    }

    /// <summary>The session key (§5.4.2): k1(secret, provisioning salt, "prsk"), 16 octets.</summary>
    public void ComputeSessionKey(ReadOnlySpan<byte> provisioningSalt, Span<byte> sessionKey) =>
        KeyDerivation.K1(_secret, provisioningSalt, "prsk"u8, sessionKey);

    /// <summary>The session nonce (§5.4.2): the last 13 octets of k1(secret, provisioning salt, "prsn").</summary>
    public void ComputeSessionNonce(ReadOnlySpan<byte> provisioningSalt, Span<byte> nonce)
    {
        Span<byte> whole = stackalloc byte[AesCmac.Length];
        KeyDerivation.K1(_secret, provisioningSalt, "prsn"u8, whole);
        whole[3..].CopyTo(nonce);
    }

    /// <summary>The device key (§3.9.6.1): k1(secret, provisioning salt, "prdk"), 16 octets.</summary>
    public void ComputeDeviceKey(ReadOnlySpan<byte> provisioningSalt, Span<byte> deviceKey) =>
        KeyDerivation.K1(_secret, provisioningSalt, "prdk"u8, deviceKey);

    /// <summary>
    /// Opens the parameters of a Provisioning Data PDU (§5.4.1.8): 25 octets and the MIC; false where they were made with other keys.
    /// </summary>
    public bool TryDecryptData(ReadOnlySpan<byte> provisioningSalt, ReadOnlySpan<byte> encryptedDataAndMic, Span<byte> data)
    {
        if (encryptedDataAndMic.Length != DataLength + DataMicLength)
        {
            data.Clear();
            return false;
        }
        Span<byte> key = stackalloc byte[AesKey.Length], nonce = stackalloc byte[AesCcm.NonceLength];
        ComputeSessionKey(provisioningSalt, key);
        ComputeSessionNonce(provisioningSalt, nonce);
        bool opened = AesCcm.TryDecrypt(new AesKey(key), nonce, encryptedDataAndMic, DataMicLength, [], data);
        key.Clear();
        return opened;
    }

    /// <summary>Encrypts provisioning data of 25 octets; 33 octets are written.</summary>
    public void EncryptData(ReadOnlySpan<byte> provisioningSalt, ReadOnlySpan<byte> data, Span<byte> encryptedDataAndMic)
    {
        if (data.Length != DataLength)
            throw new ArgumentException("The provisioning data has 25 octets.", nameof(data));
        Span<byte> key = stackalloc byte[AesKey.Length], nonce = stackalloc byte[AesCcm.NonceLength];
        ComputeSessionKey(provisioningSalt, key);
        ComputeSessionNonce(provisioningSalt, nonce);
        AesCcm.Encrypt(new AesKey(key), nonce, data, DataMicLength, [], encryptedDataAndMic);
        key.Clear();
    }

    /// <summary>True where the confirmation heard is the one that Random and AuthValue give; compared in constant time.</summary>
    public bool Confirms(ReadOnlySpan<byte> confirmation, ReadOnlySpan<byte> random, ReadOnlySpan<byte> authValue)
    {
        Span<byte> expected = stackalloc byte[ConfirmationLength];
        ComputeConfirmation(random, authValue, expected);
        return CryptographicOperations.FixedTimeEquals(expected, confirmation);
    }

    /// <summary>s2 (§3.9.2): HMAC-SHA-256 with a key of 32 octets of 0.</summary>
    internal static void S2(ReadOnlySpan<byte> m, Span<byte> salt)
    {
        Span<byte> zero = stackalloc byte[32];
        zero.Clear();
        HmacSha256(zero, m, salt);
    }

    /// <summary>k5 (§3.9.2): HMAC-SHA-256 of P, keyed with the HMAC-SHA-256 of N under the salt.</summary>
    internal static void K5(ReadOnlySpan<byte> n, ReadOnlySpan<byte> salt, ReadOnlySpan<byte> p, Span<byte> key)
    {
        Span<byte> t = stackalloc byte[32];
        HmacSha256(salt, n, t);
        HmacSha256(t, p, key);
        t.Clear();
    }

    /// <summary>HMAC-SHA-256 (RFC 2104) by BouncyCastle, which needs no library of the operating system.</summary>
    internal static void HmacSha256(ReadOnlySpan<byte> key, ReadOnlySpan<byte> message, Span<byte> mac)
    {
        var hmac = new HMac(new Sha256Digest());
        hmac.Init(new KeyParameter(key));
        hmac.BlockUpdate(message);
        hmac.DoFinal(mac);
    }

    /// <summary>Never shows the secret.</summary>
    public override string ToString() => $"provisioning security, {Algorithm}";
}
